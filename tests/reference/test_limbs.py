"""The program agrees with the reference about points on limbs around what one knob moves.

A core of one or two sections lies between a few places, two of them on a resistor; single
contacts of other knobs, in a tree, lead from there to further points. The wirings differ in a
limb or two. So what moves is mostly alike in both, and what differs stands still, or differs in
positions no move comes to, or hangs on what moves in one wiring only: there the program leaves
out the most questions.
"""

from __future__ import annotations

import json
import random
from dataclasses import dataclass, field
from typing import Any

import pytest

from tests.reference.compare import disagreements, run_program

Part = dict[str, Any]
Places = dict[str, str]
"""Per terminal the point, or the place without a point (``#``), it is wired to."""
TIMINGS = ("shorting", "non-shorting", "unknown")


@dataclass
class Rig:
    """One wiring while it is drawn."""

    parts: dict[str, Part] = field(default_factory=dict)
    places: Places = field(default_factory=dict)

    def put(self, name: str, part: Part, places: dict[str, str]) -> None:
        self.parts[name] = part
        self.places |= {f"{name}.{lug}": place for lug, place in places.items()}

    def written(self) -> dict[str, Any]:
        wires: list[list[str]] = []
        loose: dict[str, str] = {}
        for terminal, place in self.places.items():
            if not place.startswith("#"):
                wires.append([terminal, place])
                continue
            if place in loose:
                wires.append([loose[place], terminal])
            loose[place] = terminal
        return {"parts": self.parts, "wires": wires}


def limbs(luck: random.Random) -> dict[str, Any]:
    """Two or three knobs, of which K0 moves the core; the other wiring differs in a few limbs."""
    knobs = {f"K{n}": knob(luck) for n in range(luck.choice((2, 3)))}
    here, there = Rig(), Rig()
    places = ["N0", "N1", "N2", "#0"]
    for rig in (here, there):
        rig.put("R", {"resistor": "5 ohm"}, {"1": "N0", "2": "N2"})
    for number in range(luck.choice((1, 1, 2))):
        put_core(luck, f"C{number}", knobs["K0"]["positions"], places, (here, there))
    for number in range(luck.choice((3, 4, 5))):
        end = f"{luck.choice('NNNN#')}{number + 3}"
        put_limb(luck, f"L{number}", knobs, (luck.choice(places), end), (here, there))
        places.append(end)
    if luck.random() < 0.3:
        there.places[luck.choice(list(there.places))] = luck.choice(places)
    spec: dict[str, Any] = {
        "rewire": "1",
        "title": "limbs",
        "controls": knobs,
        "points": {place: {} for place in places if place.startswith("N")},
        "wirings": {"original": here.written(), "substitute": there.written()},
    }
    if luck.random() < 0.3:
        two = luck.sample(sorted(knobs), 2)
        spec["never"] = [{name: luck.choice(knobs[name]["positions"]) for name in two}]
    return spec


def knob(luck: random.Random) -> dict[str, Any]:
    travel = luck.choice(({}, {}, {"wraps": "yes"}, {"moves": "any"}))
    return {"positions": ["P1", "P2", "P3"][: luck.choice((2, 3, 3))], **travel}


def put_core(
    luck: random.Random, name: str, positions: list[str], places: list[str], rigs: tuple[Rig, Rig]
) -> None:
    """A pole and its throws; the other wiring's may be timed differently, or lack a throw."""
    throws = {position: str(n) for n, position in enumerate(positions, 1)}
    wired = {lug: luck.choice([*places, "N0", "N2"]) for lug in throws.values()}
    wired["0"] = luck.choice(("N1", "N1", "#0"))
    timing = luck.choice(TIMINGS)
    for rig in rigs:
        lack = luck.choice(positions) if luck.random() < 0.1 else None
        part = {
            "switch": "table",
            "control": "K0",
            "lugs": list(wired),
            "contacts": {at: [["0", lug]] for at, lug in throws.items() if at != lack},
            "timing": timing if luck.random() < 0.4 else luck.choice(TIMINGS),
        }
        rig.put(name, part, wired)


def put_limb(
    luck: random.Random,
    name: str,
    knobs: dict[str, Any],
    ends: tuple[str, str],
    rigs: tuple[Rig, Rig],
) -> None:
    """A contact of one knob, now and then of another or in other positions in one wiring."""
    here, there = rigs
    one, two = luck.choice(sorted(knobs)[1:]), luck.choice(sorted(knobs))
    same = contact(luck, one, knobs)
    other = contact(luck, two, knobs)
    alike = ((same, same),) * 5
    first, second = luck.choice((*alike, (same, other), (other, same), (other, other)))
    here.put(name, first, dict(zip("12", ends, strict=True)))
    there.put(
        name, second, dict(zip("12", ends if luck.random() < 0.9 else ends[::-1], strict=True))
    )


def contact(luck: random.Random, name: str, knobs: dict[str, Any]) -> Part:
    """Two lugs that are closed in some positions of a knob, or in all."""
    positions = knobs[name]["positions"]
    closed = luck.sample(positions, luck.randint(1, len(positions)))
    return {
        "switch": "table",
        "control": name,
        "lugs": ["1", "2"],
        "contacts": {position: [["1", "2"]] for position in positions if position in closed},
        "timing": luck.choice(TIMINGS),
    }


@pytest.mark.parametrize("chunk", range(2))
def test_points_on_limbs(chunk: int) -> None:
    for seed in range(chunk * 12, chunk * 12 + 12):
        spec = limbs(random.Random(seed))
        found = disagreements(spec)
        assert not found, f"seed {seed}: {found[:3]}\n{json.dumps(spec)}"


def test_every_kind_of_fact_about_moves_is_among_what_is_found() -> None:
    kinds = [f.kind for seed in range(60) for f in run_program(limbs(random.Random(seed))).findings]
    assert min(kinds.count(kind) for kind in ("stray", "interrupted", "gap", "bridge")) > 3


def test_a_point_that_only_the_moving_knob_ties_to_its_portal_in_the_original() -> None:
    """FAR hangs on BACK instead of FRONT; both wirings let go of BACK and FRONT for a moment."""
    over = {"switch": "SPDT", "control": "K", "timing": "non-shorting"}
    contact = {"switch": "table", "control": "L", "contacts": {"ON": [["1", "2"]]}}
    core = [["C.A", "FRONT"], ["C.A1", "BACK"], ["C.A2", "BACK"], ["S.2", "FAR"]]
    spec = {
        "rewire": "1",
        "title": "limb",
        "controls": {"K": ["P", "Q"], "L": ["OFF", "ON"]},
        "points": {"FRONT": {}, "BACK": {}, "FAR": {}},
        "wirings": {
            "original": {"parts": {"C": over, "S": contact}, "wires": [*core, ["S.1", "FRONT"]]},
            "substitute": {"parts": {"C": over, "S": contact}, "wires": [*core, ["S.1", "BACK"]]},
        },
    }
    assert not disagreements(spec)
    found = [(f.groups, len(f.steps)) for f in run_program(spec).findings if f.steps]
    assert ((("FAR",), ("FRONT",)), 1) in found
