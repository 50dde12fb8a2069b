"""Side by side: nothing missing, nothing unreadable; what differs is marked and nothing else."""

from __future__ import annotations

import random
from dataclasses import replace
from pathlib import Path

import pytest

from rewire.bench.wire_plan import wire_plan
from rewire.compare import compare_wiring
from rewire.draw.beside import beside_view
from rewire.draw.counterparts import switch_pairs
from rewire.draw.scene import Paper, Scene
from rewire.reading import read_spec
from rewire.records.spec import Spec, Wire, Wiring
from rewire.records.switches import Switch
from tests.draw.audit import audit
from tests.draw.beside_audit import audit_beside
from tests.draw.builders import (
    COLOURS,
    meter,
    plain_switch,
    point,
    random_switch,
    resistor,
    spec,
    table_switch,
    wire,
    wiring,
)

SPECS = sorted((Path(__file__).parents[2] / "specs").glob("*.yaml"))
POINTS = [point("CHASSIS"), point("BIAS_RETURN"), point("A_PLACE_WITH_A_NAME_OF_FORTY_CHARACTERS")]
DIFFERS = "▲"


def trouble(made: Spec, other: Wiring, paper: Paper = "a4") -> list[str]:
    findings = compare_wiring(made, other).findings
    said = []
    for pair in switch_pairs(made, other):
        scenes = beside_view(pair, wire_plan(made, "original", other.name), findings, paper=paper)
        said += [t for scene in scenes for t in audit(scene)]
        said += audit_beside(scenes, made, other, pair.before, pair.after)
    return said


def drawn(made: Spec, other: Wiring, *, compared: bool = True) -> list[Scene]:
    findings = compare_wiring(made, other).findings if compared else ()
    return [
        scene for pair in switch_pairs(made, other)
        for scene in beside_view(pair, wire_plan(made, 'original', other.name), findings)
    ]  # fmt: skip


def marked(made: Spec, other: Wiring) -> set[str]:
    """``shows`` of everything that bears the sign, notes left out."""
    return {
        text.shows for scene in drawn(made, other, compared=False) for text in scene.texts
        if text.text.startswith(DIFFERS) and text.shows
    }  # fmt: skip


@pytest.mark.parametrize("path", SPECS, ids=lambda p: p.stem)
@pytest.mark.parametrize("paper", ["a4", "letter"])
def test_shipped_specs_are_legible_and_complete(path: Path, paper: Paper) -> None:
    made = read_spec(path)
    for other in made.others:
        assert trouble(made, other, paper) == []


def wires_for(rng: random.Random, lugs: list[str], count: int) -> list[Wire]:
    ends = [p.name for p in POINTS] + ["M1.+", "M1.-"]
    wires = []
    for number in range(count):
        first = rng.choice(lugs)
        second = rng.choice([e for e in lugs if e != first] if rng.random() < 0.3 else ends)
        wires.append(wire(f"W{number + 1}", first, second, rng.choice(COLOURS)))
    return wires


def random_pair(seed: int) -> tuple[Spec, Wiring]:
    """Two wirings on one control; as often as not with the same switch."""
    rng = random.Random(seed)
    one = random_switch(rng)
    other = one if rng.random() < 0.4 else random_switch(rng)
    positions = max(len(s.throw_at or s.sections[0].groups) for s in (one, other))
    other = replace(other, control=one.control)
    made = []
    for name, switch in (("original", one), ("planned", other)):
        lugs = [switch.terminal(lug) for lug in switch.terminals]
        parts = [switch, meter(), resistor("R1", (lugs[0], "CHASSIS"))]
        made.append(wiring(parts, wires_for(rng, lugs, rng.choice((0, 4, 12, 40))),
                           name=name))  # fmt: skip
    drawn_up = spec(made, POINTS, positions=[f"P{n}" for n in range(positions)])
    return drawn_up, made[1]


def padded(made: Spec, other: Wiring) -> tuple[Spec, Wiring]:
    """Sections that say what is closed in every position of the control, as a read spec's do."""
    count = len(next(iter(made.controls.values())).positions)
    fixed = {}
    for one in made.wirings.values():
        parts = {
            name: replace(
                part,
                throw_at=part.throw_at
                and (*part.throw_at, *(None,) * (count - len(part.throw_at))),
                sections=tuple(
                    replace(s, groups=(*s.groups, *((),) * (count - len(s.groups))))
                    for s in part.sections
                ),
            ) if isinstance(part, Switch) else part
            for name, part in one.parts.items()
        }  # fmt: skip
        fixed[one.name] = replace(one, parts=parts)
    return replace(made, wirings=fixed), fixed[other.name]


@pytest.mark.parametrize("first", range(0, 80, 8))
def test_random_pairs_are_legible_and_complete(first: int) -> None:
    for seed in range(first, first + 8):
        made, other = padded(*random_pair(seed))
        assert trouble(made, other, "a4" if seed % 2 else "letter") == [], f"seed {seed}"


def test_the_same_wiring_twice_bears_no_mark_and_says_so() -> None:
    for seed in range(12):
        made, _ = padded(*random_pair(seed))
        twin = replace(made.original, name="twin")
        both = replace(made, wirings={"original": made.original, "twin": twin})
        scenes = drawn(both, twin)
        assert not any(DIFFERS in t.text for s in scenes for t in s.texts), f"seed {seed}"
        assert any("No difference" in t.text for s in scenes for t in s.texts)


@pytest.mark.parametrize("seed", range(20))
def test_one_wire_moved_is_marked_at_both_lugs_and_nowhere_else(seed: int) -> None:
    rng = random.Random(seed)
    switch = plain_switch("S1", f"{rng.randint(1, 4)}P{rng.randint(2, 6)}T")
    lugs = [switch.terminal(lug) for lug in switch.terminals]
    parts = [switch, meter()]
    wires = [wire(f"W{n}", lug, POINTS[n % 3].name, COLOURS[n % 12]) for n, lug in enumerate(lugs)]
    old, new = rng.sample(lugs, 2)
    moved = [replace(w, ends=(new, w.ends[1])) if w.ends[0] == old else w for w in wires]
    other = wiring(parts, moved, name="planned")
    made = spec([wiring(parts, wires), other], POINTS)
    name = wires[lugs.index(old)].id
    assert marked(made, other) == {
        f"wire:{name} in original", f"wire:{name} in planned",
        *(f"lug:{lug} in {w}" for lug in (old, new) for w in ("original", "planned")),
    }  # fmt: skip


def test_another_colour_or_number_is_no_difference() -> None:
    switch = plain_switch("S1", "DPDT")
    one = [wire("W1", "S1.A", "CHASSIS", "RD"), wire("J1", "S1.A1", "S1.B1")]
    two = [wire("J7", "S1.B1", "S1.A1"), wire("W9", "CHASSIS", "S1.A", "BK")]
    other = wiring([switch], two, name="planned")
    made = spec([wiring([switch], one), other], POINTS)
    assert marked(made, other) == set()


def test_a_part_in_the_role_of_another_is_no_difference() -> None:
    switch = plain_switch("S1", "SPDT")
    instead = replace(meter("M9"), replaces={"+": "M1.+", "-": "M1.-"})
    old = wiring([switch, meter()], [wire("W1", "S1.A", "M1.+")])
    new = wiring([switch, instead], [wire("W1", "S1.A", "M9.+")], name="planned")
    turned = wiring([switch, instead], [wire("W1", "S1.A", "M9.-")], name="turned")
    made = spec([old, new, turned], POINTS)
    assert marked(made, new) == set()
    assert "wire:W1 in turned" in marked(made, turned)


def test_a_pole_that_is_gone_is_dashed_and_what_it_carried_is_told_as_lost() -> None:
    three, two = plain_switch("S1", "3PDT"), plain_switch("S1", "DPDT")
    wires = [wire("W1", "S1.C", "BIAS_RETURN"), wire("W2", "S1.C1", "CHASSIS")]
    rest = [wire("W1", "S1.A2", "BIAS_RETURN")]
    other = wiring([two], rest, name="planned")
    made = spec([wiring([three], wires), other], POINTS)
    (scene,) = drawn(made, other)
    dashed = {s.shows for s in scene.symbols if s.dash == "dashed"}
    assert {f"again:S1.{lug} not in planned" for lug in ("C", "C1", "C2")} == dashed
    text = " ".join(t.text for t in scene.texts)
    assert "✕1 lost in" in text
    signed = {t.shows for t in scene.texts if t.text.startswith("✕1 ") and t.shows}
    assert {"lug:S1.C in original", "lug:S1.C1 in original"} <= signed
    assert "lug:S1.A2 in planned" in signed


def test_both_drawings_have_their_lugs_at_the_same_places() -> None:
    compared = 0
    for seed in range(60):
        made, other = padded(*random_pair(seed))
        for pair in switch_pairs(made, other):
            scenes = beside_view(pair, wire_plan(made, "original", other.name), ())
            if not pair.alike or len(scenes) > 1:
                continue
            across = _shifts(scenes[0])
            assert len(across) == 1, f"seed {seed}: {across}"
            compared += 1
    assert compared > 5


def _shifts(scene: Scene) -> set[float]:
    """How far to the side each lug of one drawing stands from its like in the other, mm."""
    at = {s.shows: s.box.centre[0] for s in scene.symbols if s.shows.startswith("lug:")}
    return {
        round(at[shows.replace(" in original", " in planned")] - x, 6)
        for shows, x in at.items() if shows.endswith(" in original")
    }  # fmt: skip


def test_a_switch_without_a_like_leaves_a_word_and_the_other_drawing() -> None:
    switch = table_switch("S1", [(("1", "2", "3", "4"), [[("1", "2")], [("3", "4"), ("1", "2")]])])
    other = wiring([meter()], [wire("W1", "M1.+", "CHASSIS")], name="planned")
    made = spec([wiring([switch], [wire("W1", "S1.1", "CHASSIS")]), other], POINTS)
    assert trouble(made, other) == []
    assert any("no switch here" in t.text for s in drawn(made, other) for t in s.texts)
