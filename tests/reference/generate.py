"""Random specs as plain mappings: small, valid, and full of odd switches.

``random_spec(rng)`` draws everything from one ``random.Random``, so a spec can be
made again from its seed, and hypothesis can draw it as well.
"""

from __future__ import annotations

import itertools
import random
from collections.abc import Mapping, Sequence
from typing import Any

from tests.reference.circuit import (
    control_positions,
    kind_of,
    lugs_of,
    pole_lugs,
    states_of,
    switch_pieces,
)

Part = dict[str, Any]
Spec = dict[str, Any]
Wires = list[list[str]]

TIMINGS = ("non-shorting", "shorting", "unknown")
COLOURS = ("RD", "BK", "BU", "GNYE", "WH")
LETTER = {1: "S", 2: "D"}


def chance(rng: random.Random, probability: float) -> bool:
    """True that often."""
    return rng.random() < probability


def random_controls(rng: random.Random, size: int) -> dict[str, Any]:
    """One to three controls of two to four positions; a list, or wrapping, or any to any."""
    count = rng.choice([1, 1, 1, 2, 2, 3][: 3 + size])
    controls: dict[str, Any] = {}
    for index in range(count):
        positions = [
            f"P{n}" for n in range(rng.choice([2, 2, 3, 3, 4] if count < 3 else [2, 2, 3]))
        ]
        told: dict[str, Any] = {"positions": positions}
        if chance(rng, 0.3):
            told["wraps"] = "yes"
        elif chance(rng, 0.25):
            told["moves"] = "any"
        controls[f"K{index}"] = told if len(told) > 1 or chance(rng, 0.2) else positions
    return controls


def random_never(rng: random.Random, spec: Spec) -> list[dict[str, str]]:
    """At most one combination of two controls that cannot occur."""
    if len(spec["controls"]) < 2 or not chance(rng, 0.3):
        return []
    pair = rng.sample(sorted(spec["controls"]), 2)
    never = {control: rng.choice(control_positions(spec, control)) for control in pair}
    return [never] if states_of({**spec, "never": [never]}) else []


def random_values(rng: random.Random, kind: str) -> Part:
    """A part of a two- or three-terminal kind, all values known."""
    ohms = f"{rng.randint(1, 99)} ohm"
    return {
        "meter": {"meter": rng.choice(["1 mA", "50 mV"]), "resistance": ohms},
        "resistor": {
            "resistor": ohms,
            **rng.choice([{}, {}, {"rating": f"{rng.choice('125')} W"}]),
        },
        "pot": {"pot": ohms, "setting": f"{rng.randint(5, 95)} %"},
        "capacitor": rng.choice(
            [{"capacitor": "10 nF"}, {"capacitor": "8 uF", "polarised": "yes", "rating": "50 V"}]
        ),
        "choke": {"choke": "1 H", "resistance": ohms},
        "diode": {"diode": rng.choice(["silicon", "germanium"])},
        "lamp": {"lamp": "12 V", "current": "100 mA"},
        "fuse": {"fuse": rng.choice(["1 A", "1 A", "500 mA", "2 A"])},
    }[kind]


def plain_switch(rng: random.Random, positions: Sequence[str]) -> Part:
    """A form such as DPDT or 2P4T, perhaps with positions mapped or lugs renamed."""
    count = len(positions)
    poles = rng.choice([1, 1, 2, 2, 3])
    throws = 1 if chance(rng, 0.1) else count + rng.choice([0, 0, 0, 1, 2])
    letters = [LETTER.get(n, str(n)) if chance(rng, 0.8) else str(n) for n in (poles, throws)]
    part: Part = {"switch": f"{letters[0]}P{letters[1]}T"}
    if chance(rng, 0.35):
        part["style"] = rng.choice(["rotary", "rotary", "slide", "toggle"])
    if throws == 1 or chance(rng, 0.25):
        choices = [str(n + 1) for n in range(throws)] + ["open"]
        part["positions"] = {position: rng.choice(choices) for position in positions}
    elif throws > count and chance(rng, 0.7):
        part["positions"] = apart(rng, positions, throws)
    if chance(rng, 0.2):
        part["lugs"] = [
            [f"{pole + 1}{'cabdefgh'[throw]}" for throw in range(throws + 1)]
            for pole in range(poles)
        ]
    return part


def apart(rng: random.Random, positions: Sequence[str], throws: int) -> dict[str, str]:
    """A throw of its own for each position, some left out between; mostly in order of travel."""
    chosen = rng.sample(range(1, throws + 1), len(positions))
    in_order = sorted(chosen) if chance(rng, 0.8) else chosen
    return {position: str(throw) for position, throw in zip(positions, in_order, strict=True)}


def random_groups(rng: random.Random, lugs: Sequence[str]) -> list[list[str]]:
    """Disjoint groups of two lugs or more."""
    left = list(lugs)
    if chance(rng, 0.5):
        rng.shuffle(left)
    groups = []
    while len(left) > 1 and chance(rng, 0.75):
        size = min(len(left), rng.choice([2, 2, 3, 4]))
        groups.append(left[:size])
        left = left[size + rng.choice([0, 1]) :]
    return groups


def sliding_blade(rng: random.Random, lugs: Sequence[str], positions: Sequence[str]) -> Any:
    """Contacts of a long blade that moves on by one lug per position."""
    span = rng.choice([2, 3])
    return {
        position: [[lugs[(index + n) % len(lugs)] for n in range(span)]]
        for index, position in enumerate(positions)
    }


def table_switch(rng: random.Random, positions: Sequence[str]) -> Part:
    """A table of contacts, with long blades and perhaps a position that closes nothing."""
    lugs = [str(n + 1) for n in range(rng.randint(3, 6))]
    if chance(rng, 0.3):
        contacts = sliding_blade(rng, lugs, positions)
    else:
        drawn = {position: random_groups(rng, lugs) for position in positions}
        contacts = {position: groups for position, groups in drawn.items() if groups}
    if not contacts:
        contacts = {positions[0]: [lugs[:2]]}
    return {"switch": "table", "lugs": lugs, "contacts": contacts}


def random_timing(rng: random.Random, part: Part, positions: list[str]) -> Any:
    """One timing for all sections, or a mapping from a lug of some sections, or None."""
    if chance(rng, 0.15):
        return None
    if chance(rng, 0.8):
        return rng.choice(TIMINGS)
    timings = {
        rng.choice(sorted(lugs)): rng.choice(TIMINGS)
        for lugs, _ in switch_pieces(part, positions)
        if chance(rng, 0.8)
    }
    return timings or None


def with_timing(rng: random.Random, part: Part, positions: list[str]) -> Part:
    """The same switch with a timing drawn anew."""
    told = {key: value for key, value in part.items() if key != "timing"}
    timing = random_timing(rng, told, positions)
    return told if timing is None else {**told, "timing": timing}


def random_switch(rng: random.Random, spec: Spec, control: str) -> Part:
    """Any switch for a control."""
    positions = control_positions(spec, control)
    form = plain_switch if chance(rng, 0.6) else table_switch
    part = {**form(rng, positions), "control": control}
    return with_timing(rng, part, positions)


def random_points(rng: random.Random, size: int) -> dict[str, Any]:
    """The chassis and two to five others."""
    others = {f"N{n}": {"note": "n"} for n in range(rng.randint(2, 3 + size))}
    return {"CH": {"chassis": "yes"}, **others}


def staying_parts(rng: random.Random, spec: Spec) -> dict[str, Part]:
    """Parts that stay in every wiring: between two points, or free to be wired."""
    parts: dict[str, Part] = {}
    for index in range(rng.choice([0, 0, 1, 1, 2])):
        kind = rng.choice(["resistor", "resistor", "capacitor", "diode", "meter", "lamp", "pot"])
        part = random_values(rng, kind)
        if kind != "pot" and chance(rng, 0.5):
            part["between"] = rng.sample(sorted(spec["points"]), 2)
        parts[f"R{index}"] = part
    if chance(rng, 0.1):
        parts["T0"] = random_switch(rng, spec, rng.choice(sorted(spec["controls"])))
    if chance(rng, 0.1):
        parts["B0"] = {"strip": rng.choice(["2", ["in", "out", "e"]])}
    return parts


def original_parts(rng: random.Random, spec: Spec, size: int) -> dict[str, Part]:
    """Switches, most times a meter, and a few others."""
    parts: dict[str, Part] = {}
    for index in range(rng.choice([1, 1, 2, 2, 3][: 2 + size])):
        controls = sorted(spec["controls"])
        parts[f"S{index}"] = random_switch(rng, spec, controls[index % len(controls)])
    if chance(rng, 0.6):
        parts["M1"] = random_values(rng, "meter")
    for index in range(rng.choice([0, 1, 1, 2])):
        kind = rng.choice(
            ["resistor", "resistor", "resistor", "pot", "capacitor", "choke", "diode", "fuse"]
        )
        parts[f"X{index}"] = random_values(rng, kind)
        if chance(rng, 0.1) and kind != "pot":
            parts[f"X{index}"]["between"] = rng.sample(sorted(spec["points"]), 2)
    if chance(rng, 0.15):
        parts["B1"] = {"strip": rng.choice(["1", "3"])}
    return parts


def terminals_of(parts: Mapping[str, Part]) -> list[str]:
    """All terminals of some parts."""
    return [f"{name}.{lug}" for name, part in parts.items() for lug in lugs_of(part)]


def random_wires(rng: random.Random, spec: Spec, parts: Mapping[str, Part]) -> Wires:
    """Most terminals wired to something, and a jumper here and there; no wire twice."""
    places = [*spec["points"], *terminals_of({**spec["parts"], **parts})]
    wires: Wires = []
    for start in places:
        if start in spec["points"] and not chance(rng, 0.1):
            continue
        if not chance(rng, 0.75):
            continue
        end = rng.choice(sorted(spec["points"]) if chance(rng, 0.55) else places)
        add_wire(wires, start, end)
    for name, part in parts.items():
        if kind_of(part) == "switch" and chance(rng, 0.4):
            a, b = rng.sample(lugs_of(part), 2)
            add_wire(wires, f"{name}.{a}", f"{name}.{b}")
    return wires


def feeding_wires(rng: random.Random, spec: Spec, parts: Mapping[str, Part]) -> Wires:
    """Switches that hand one feed on from throw to throw: few places, most lugs on them.

    So two throws in a row are often one net, which makes gaps and bridges likely.
    """
    few = rng.sample(sorted(spec["points"]), 3)
    wires: Wires = []
    for place in terminals_of({**spec["parts"], **parts}):
        if chance(rng, 0.8):
            name = place.split(".")[0]
            is_switch = name in parts and kind_of(parts[name]) == "switch"
            add_wire(wires, place, rng.choice(few if is_switch else sorted(spec["points"])))
    switches = sorted(name for name in parts if kind_of(parts[name]) == "switch")
    for name in switches:
        if chance(rng, 0.7):
            common = f"{name}.{lugs_of(parts[name])[0]}"
            wires = [wire for wire in wires if common not in wire]
            add_wire(wires, common, rng.choice(sorted(spec["points"])))
    return chained(rng, parts, switches, wires) if chance(rng, 0.6) else wires


def doubled_wires(rng: random.Random, spec: Spec, parts: Mapping[str, Part]) -> Wires:
    """Poles side by side between the same few places, so that one holds while another lets go.

    Every throw of a pole mostly ends on one place, or each on its own; the other terminals stand
    alone, so that parts put in later link what was apart.
    """
    near, far, *others = rng.sample(sorted(spec["points"]), 3)
    wires: Wires = []
    for name, part in parts.items():
        if kind_of(part) != "switch":
            ends = [rng.choice([near, far, *others, *spec["points"]]) for _ in lugs_of(part)]
            wires += [[f"{name}.{lug}", end] for lug, end in zip(lugs_of(part), ends, strict=True)]
            continue
        poles = [lugs_of(part)] if part["switch"] == "table" else pole_lugs(part)
        for common, *throws in poles:
            add_wire(wires, f"{name}.{common}", near if chance(rng, 0.8) else rng.choice(others))
            same = chance(rng, 0.6)
            for throw in throws:
                end = far if same or chance(rng, 0.3) else rng.choice([*spec["points"], near])
                if chance(rng, 0.85):
                    add_wire(wires, f"{name}.{throw}", end)
    return wires


def chained(
    rng: random.Random, parts: Mapping[str, Part], switches: Sequence[str], wires: Wires
) -> Wires:
    """A lug of each switch on a lug of the next and on nothing else: a net without anchors."""
    for one, two in itertools.pairwise(switches):
        a = f"{one}.{rng.choice([lugs_of(parts[one])[0], rng.choice(lugs_of(parts[one]))])}"
        b = f"{two}.{rng.choice(lugs_of(parts[two]))}"
        wires = [wire for wire in wires if a not in wire and b not in wire]
        add_wire(wires, a, b)
    return wires


def add_wire(wires: Wires, start: str, end: str) -> None:
    """One wire more, if its ends differ and it is not there."""
    if start != end and {start, end} not in [set(wire) for wire in wires]:
        wires.append([start, end])


def take_nets(rng: random.Random, wires: Wires) -> tuple[Wires, list[list[str]]]:
    """Say a few wires as nets instead, of two to four places."""
    nets: list[list[str]] = []
    if not chance(rng, 0.3):
        return wires, nets
    for _ in range(rng.choice([1, 1, 2])):
        if len(wires) < 3:
            break
        wire = wires[rng.randrange(len(wires))]
        more = [w for w in wires if w is not wire and set(w) & set(wire)][: rng.choice([0, 1, 2])]
        wires = [w for w in wires if w is not wire and w not in more]
        nets.append(list(dict.fromkeys(end for w in [wire, *more] for end in w)))
    return wires, nets


def written_wire(rng: random.Random, wire: list[str]) -> Any:
    """A wire in one of the ways a user may write it."""
    if chance(rng, 0.75):
        return list(wire)
    if chance(rng, 0.5):
        return [*wire, rng.choice(COLOURS)]
    return {"from": wire[0], "to": wire[1], "colour": rng.choice(COLOURS)}


def written_wiring(rng: random.Random, parts: Mapping[str, Part], wires: Wires) -> dict[str, Any]:
    """A wiring in the words of the format."""
    left, nets = take_nets(rng, wires)
    told: dict[str, Any] = {"parts": dict(parts)}
    if nets and chance(rng, 0.5):
        told["nets"] = {f"NET{index}": net for index, net in enumerate(nets)}
    elif nets:
        told["nets"] = nets
    if wires and chance(rng, 0.05):
        left = [*left, [rng.choice(wires)[0], "cut"]]
    told["wires"] = [written_wire(rng, wire) for wire in left]
    return told


def resistances_known(spec: Spec) -> bool:
    """Whether resistances are all known, so that a rule may set a limit."""
    wirings = [wiring["parts"] for wiring in spec["wirings"].values()]
    every = [part for parts in [spec["parts"], *wirings] for part in parts.values()]
    return not any("contact_resistance" in part for part in every) and all(
        kind_of(part) != "meter" or part["resistance"] != "unknown" for part in every
    )
