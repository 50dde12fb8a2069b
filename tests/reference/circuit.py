"""The plain mapping of a spec, read as naively as can be: terminals, nets, sections, parts.

Nothing here is shared with the program. Specs are taken to be valid.
"""

from __future__ import annotations

import itertools
import re
from collections.abc import Hashable, Iterable, Iterator, Mapping
from dataclasses import dataclass, field
from typing import Any

Contacts = frozenset[frozenset[str]]
"""Groups of terminals that are closed together, two or more in each."""

LUGS = {
    "meter": ("+", "-"),
    "resistor": ("1", "2"),
    "pot": ("ccw", "wiper", "cw"),
    "capacitor": ("1", "2"),
    "choke": ("1", "2"),
    "diode": ("A", "K"),
    "lamp": ("1", "2"),
    "fuse": ("1", "2"),
}
KINDS = (*LUGS, "switch", "strip")
PASSES_DC = frozenset(LUGS) - {"capacitor"}
POLES = [letter for letter in "ABCDEFGHIJKLMNOPQRSTUVWXYZ" if letter not in "IO"]
YES = ("yes", "true", "on")


def components(
    nodes: Iterable[Hashable], groups: Iterable[Iterable[Hashable]]
) -> list[frozenset[Any]]:
    """Connected components of ``nodes`` when the members of each group are joined."""
    found: dict[Hashable, set[Hashable]] = {node: {node} for node in nodes}
    for group in groups:
        for one, two in itertools.pairwise(group):
            small, large = sorted((found[one], found[two]), key=len)
            if small is not large:
                large |= small
                found.update(dict.fromkeys(small, large))
    return [frozenset(part) for part in {id(part): part for part in found.values()}.values()]


def kind_of(part: Mapping[str, Any]) -> str:
    """The key that names the kind."""
    return next(kind for kind in KINDS if kind in part)


@dataclass(frozen=True)
class Section:
    """Lugs that move as one; ``closed[position]`` are the groups closed there.

    ``passed`` holds, per step, what is closed at each throw that the section passes over.
    """

    switch: str
    control: str
    lugs: frozenset[str]
    closed: Mapping[str, Contacts]
    timing: str
    passed: Mapping[tuple[str, str], tuple[Contacts, ...]]


@dataclass
class Circuit:
    """One wiring, with the parts that stay in the equipment.

    ``nets`` are numbered; ``net_of`` gives the number for a terminal or point.
    """

    parts: dict[str, dict[str, Any]]
    terminals: dict[str, list[str]]
    nets: list[frozenset[str]]
    net_of: dict[str, int]
    sections: list[Section]
    known: dict[Any, list[frozenset[int]]] = field(default_factory=dict)
    """Answers already worked out, by question."""

    def numbers(self, group: Iterable[str]) -> list[int]:
        """The nets on which some terminals lie."""
        return [self.net_of[terminal] for terminal in group]

    def joined(
        self, closed: Contacts, more: frozenset[frozenset[int]] = frozenset()
    ) -> list[frozenset[int]]:
        """Nets gathered by closed contacts and by further groups of nets."""
        question = (closed, more)
        if question not in self.known:
            groups = [self.numbers(group) for group in closed] + [list(group) for group in more]
            self.known[question] = components(range(len(self.nets)), groups)
        return self.known[question]

    def dc_links(self, names: Iterable[str]) -> frozenset[frozenset[int]]:
        """What the named parts link when they pass DC, as groups of nets."""
        return frozenset(
            frozenset(self.numbers(self.terminals[name]))
            for name in names
            if kind_of(self.parts[name]) in PASSES_DC
        )


def control_positions(spec: Mapping[str, Any], control: str) -> list[str]:
    """Positions in order of travel."""
    told = spec["controls"][control]
    return list(told["positions"] if isinstance(told, Mapping) else told)


def steps_of(spec: Mapping[str, Any], control: str) -> list[tuple[str, str]]:
    """Pairs of positions that one move joins, each pair once, earlier in travel first."""
    told = spec["controls"][control]
    positions = control_positions(spec, control)
    pairs = list(itertools.pairwise(positions))
    if not isinstance(told, Mapping):
        return pairs
    if told.get("moves") == "any":
        return list(itertools.combinations(positions, 2))
    if goes_round(spec, control):
        pairs.append((positions[0], positions[-1]))
    return pairs


def goes_round(spec: Mapping[str, Any], control: str) -> bool:
    """Whether the last position has the first as its neighbour, on the far side."""
    told = spec["controls"][control]
    if not isinstance(told, Mapping) or told.get("moves") == "any":
        return False
    return told.get("wraps") in YES and len(told["positions"]) > 2


def states_of(spec: Mapping[str, Any]) -> list[dict[str, str]]:
    """Every full state that can occur."""
    names = list(spec["controls"])
    every = itertools.product(*(control_positions(spec, name) for name in names))
    states = [dict(zip(names, positions, strict=True)) for positions in every]
    return [state for state in states if can_occur(spec, state)]


def can_occur(spec: Mapping[str, Any], state: Mapping[str, str]) -> bool:
    """Whether no ``never`` names this state."""
    return not any(
        all(state[control] == position for control, position in never.items())
        for never in spec.get("never", [])
    )


def count_of(word: str) -> int:
    """How many poles or throws a letter or number of a form stands for."""
    return {"S": 1, "D": 2}.get(word) or int(word)


def pole_lugs(part: Mapping[str, Any]) -> list[list[str]]:
    """Per pole of a plain form: common, throw 1, throw 2 …"""
    if "lugs" in part:
        return [list(pole) for pole in part["lugs"]]
    form = re.fullmatch(r"(S|D|\d+)P(S|D|\d+)T", part["switch"])
    assert form is not None
    poles, throws = count_of(form[1]), count_of(form[2])
    return [
        [letter, *(f"{letter}{throw}" for throw in range(1, throws + 1))]
        for letter in POLES[:poles]
    ]


def switch_lugs(part: Mapping[str, Any]) -> list[str]:
    """Bare names of all lugs of a switch."""
    if part["switch"] != "table":
        return [lug for pole in pole_lugs(part) for lug in pole]
    named = list(part.get("lugs", []))
    for groups in part["contacts"].values():
        named += [lug for group in groups for lug in group]
    return list(dict.fromkeys(named))


def lugs_of(part: Mapping[str, Any]) -> list[str]:
    """Bare names of all lugs of any part."""
    kind = kind_of(part)
    if kind == "switch":
        return switch_lugs(part)
    if kind != "strip":
        return list(LUGS[kind])
    told = part["strip"]
    return list(told) if isinstance(told, list) else [str(n + 1) for n in range(int(told))]


def throws_at(part: Mapping[str, Any], positions: list[str]) -> dict[str, int]:
    """Position → throw of a plain form; a position that is open is left out."""
    given = part.get("positions", {at: str(n) for n, at in enumerate(positions, 1)})
    return {at: int(throw) for at, throw in given.items() if throw != "open"}


def plain_groups(
    part: Mapping[str, Any], pole: list[str], positions: list[str]
) -> dict[str, list[list[str]]]:
    """Position → what one pole of a plain form closes there."""
    throws = throws_at(part, positions)
    return {at: [[pole[0], pole[throws[at]]]] if at in throws else [] for at in positions}


def passed_throws(
    spec: Mapping[str, Any], part: Mapping[str, Any], step: tuple[str, str]
) -> list[int]:
    """Throws between the two of a step, in a plain form that turns or slides over them.

    From last to first a knob that goes round goes on over the end.
    """
    if part["switch"] == "table" or part.get("style") not in ("rotary", "slide"):
        return []
    positions = control_positions(spec, part["control"])
    throws = throws_at(part, positions)
    if not set(step) <= set(throws):
        return []
    low, high = sorted(throws[position] for position in step)
    passed = list(range(low + 1, high))
    if goes_round(spec, part["control"]) and step == (positions[0], positions[-1]):
        last = len(pole_lugs(part)[0]) - 1
        passed = [*range(high + 1, last + 1), *range(1, low)][::-1] if low < high else []
    return passed if throws[step[0]] == low else passed[::-1]


def switch_pieces(
    part: Mapping[str, Any], positions: list[str]
) -> Iterator[tuple[frozenset[str], dict[str, list[list[str]]]]]:
    """The sections of a switch: bare lugs, and position → groups closed."""
    if part["switch"] != "table":
        for pole in pole_lugs(part):
            yield frozenset(pole), plain_groups(part, pole, positions)
        return
    contacts = {position: part["contacts"].get(position, []) for position in positions}
    every = [group for groups in contacts.values() for group in groups]
    for piece in components(switch_lugs(part), every):
        if len(piece) > 1:
            yield (
                piece,
                {
                    position: [group for group in groups if group[0] in piece]
                    for position, groups in contacts.items()
                },
            )


def timing_of(part: Mapping[str, Any], lugs: frozenset[str]) -> str:
    """Timing of the section with these lugs; not stated is non-shorting."""
    told = part.get("timing", "non-shorting")
    if not isinstance(told, Mapping):
        return str(told)
    return next((timing for lug, timing in told.items() if lug in lugs), "non-shorting")


def full_groups(name: str, groups: Iterable[Iterable[str]]) -> Contacts:
    """Groups of two lugs and more, the lugs by their full names."""
    full = (frozenset(f"{name}.{lug}" for lug in group) for group in groups)
    return frozenset(group for group in full if len(group) > 1)


def sections_of(spec: Mapping[str, Any], name: str, part: Mapping[str, Any]) -> list[Section]:
    """All sections of one switch, lugs by their full names."""
    control = part["control"]
    poles = {} if part["switch"] == "table" else {frozenset(p): p for p in pole_lugs(part)}
    over = {step: passed_throws(spec, part, step) for step in steps_of(spec, control)}
    sections = []
    for lugs, groups in switch_pieces(part, control_positions(spec, control)):
        closed = {position: full_groups(name, here) for position, here in groups.items()}
        pole = poles.get(lugs, [])
        passed = {
            step: tuple(full_groups(name, [[pole[0], pole[throw]]]) for throw in throws)
            for step, throws in over.items()
        }
        full = frozenset(f"{name}.{lug}" for lug in lugs)
        sections.append(Section(name, control, full, closed, timing_of(part, lugs), passed))
    return sections


def joins_of(parts: Mapping[str, Mapping[str, Any]], told: Mapping[str, Any]) -> list[list[str]]:
    """Everything that nets, wires and ``between`` join."""
    nets = told.get("nets", [])
    joins = [list(net) for net in (nets.values() if isinstance(nets, Mapping) else nets)]
    for wire in told.get("wires", []):
        ends = [wire["from"], wire["to"]] if isinstance(wire, Mapping) else wire[:2]
        joins += [ends] if "cut" not in ends else []
    for name, part in parts.items():
        for lug, end in zip(lugs_of(part), part.get("between", []), strict=False):
            joins.append([f"{name}.{lug}", end])
    return joins


def read_circuit(spec: Mapping[str, Any], wiring: str) -> Circuit:
    """One wiring of a spec, with the parts that stay."""
    told = spec["wirings"][wiring]
    parts = {**spec.get("parts", {}), **told.get("parts", {})}
    terminals = {name: [f"{name}.{lug}" for lug in lugs_of(part)] for name, part in parts.items()}
    every = [*spec.get("points", {}), *itertools.chain.from_iterable(terminals.values())]
    nets = components(every, joins_of(parts, told))
    net_of = {terminal: number for number, net in enumerate(nets) for terminal in net}
    sections = [
        section
        for name, part in parts.items()
        if kind_of(part) == "switch"
        for section in sections_of(spec, name, part)
    ]
    return Circuit(parts, terminals, nets, net_of, sections)
