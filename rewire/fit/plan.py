"""From a landing to a wiring: the new switch, a wire for every piece that lands, jumpers."""

from __future__ import annotations

import re
from collections.abc import Collection, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from itertools import pairwise

from rewire.compare import Finding, Result
from rewire.compare.comparing import compare_wiring
from rewire.compare.findings import FindingKind
from rewire.fit.offers import Landing, Offer, mapped
from rewire.fit.task import SwitchTask, WithoutSwitch, bare_wire
from rewire.records.spec import Change, ChangeKind, Net, Place, Spec, Switch, Wire, Wiring

_CHANGES: Mapping[FindingKind, ChangeKind] = {
    "gap": "gap", "bridge": "bridge", "interrupted": "interrupt", "stray": "stray",
}  # fmt: skip
_NUMBERED = re.compile(r"(.*?)([0-9]+)")


@dataclass(frozen=True, slots=True)
class NewWire:
    """A wire to a lug of the new switch."""

    lug: str
    to: str
    """A terminal or point; for a jumper the bare name of another lug."""
    jumper: bool
    old: Wire | None
    """The wire of the original that went there."""


@dataclass(frozen=True)
class LandingPlan:
    """Where every wire goes."""

    switch: Switch
    wires: tuple[NewWire, ...]
    splices: tuple[tuple[str, ...], ...]
    """Places that a lug of the old switch held together and that need none of the new."""

    @property
    def landed(self) -> dict[str, list[str]]:
        """Per lug the terminals and points landed there."""
        found: dict[str, list[str]] = {}
        for wire in self.wires:
            if not wire.jumper:
                found.setdefault(wire.lug, []).append(wire.to)
        return {lug: found[lug] for lug in self.switch.terminals if lug in found}

    @property
    def jumpers(self) -> list[tuple[str, str]]:
        """Pairs of lugs."""
        return [(wire.lug, wire.to) for wire in self.wires if wire.jumper]


def landing_plan(bare: WithoutSwitch, offer: Offer, landing: Landing, name: str) -> LandingPlan:
    """Choose the lug of each net that its stubs land on, and lay the jumpers.

    A stub lands where its wire was if that lug is on its net, else on the first lug of
    the net; jumpers run from lug to lug in the order of the lugs.
    """
    wires: list[NewWire] = []
    was = same_lugs(bare.switch, offer.switch)
    for stubs, lugs in landing.nets:
        for stub in (bare.stubs[number] for number in stubs):
            lug = next((lug for lug in lugs if was.get(lug) == stub.homes[0]), lugs[0])
            wires += (NewWire(lug, end, False, _old_wire(bare, end)) for end in stub.ends)
        wires += (NewWire(a, b, True, None) for a, b in pairwise(lugs))
    order = {lug: number for number, lug in enumerate(offer.switch.terminals)}
    wires.sort(key=lambda wire: (order[wire.lug], wire.jumper))
    landed = {number for stubs, _ in landing.nets for number in stubs}
    left = (stub for number, stub in enumerate(bare.stubs) if number not in landed)
    return LandingPlan(
        _switch(bare, offer, landing, name),
        tuple(wires),
        tuple(stub.ends for stub in left if len(stub.pieces) > 1),
    )


def wiring_of(bare: WithoutSwitch, plan: LandingPlan, name: str) -> Wiring:
    """The original with the new switch in place of the old one, as a wiring to be compared."""
    parts = {**bare.wiring.parts, plan.switch.name: plan.switch}
    nets = (*bare.wiring.nets, *(Net(None, ends, plan.switch.place) for ends in plan.splices))
    wires = (*bare.wiring.wires, *_wires(plan))
    return replace(bare.wiring, name=name, parts=parts, nets=nets, wires=wires, changes=())


def changes_for(
    findings: Sequence[Finding], waived: Collection[str], place: Place
) -> tuple[Change, ...]:
    """Declarations of what happens while switching and was waived, each told once."""
    found = []
    for finding in (f for f in findings if f.kind in waived and f.kind in _CHANGES):
        first, *others = finding.groups
        for other in others:
            change = Change(
                kind=_CHANGES[finding.kind],
                parts=(),
                anchors=(first[0], other[0]),
                when=_covering(finding),
                why="waived when the switch was fitted",
                reversible=True,
                place=place,
            )
            found.append(change)
    return tuple(found)


def _covering(finding: Finding) -> dict[str, tuple[str, ...]]:
    """Positions that cover both ends of every step."""
    found: dict[str, dict[str, None]] = {}
    for end in (end for step in finding.steps for end in (step.before, step.after)):
        for control, position in end.at:
            found.setdefault(control, {})[position] = None
    return {control: tuple(positions) for control, positions in found.items()}


def with_wiring(spec: Spec, wiring: Wiring) -> Spec:
    """A spec with one more wiring."""
    return replace(spec, wirings={**spec.wirings, wiring.name: wiring})


def free_name(spec: Spec, old: str) -> str:
    """A name for the new switch: the old one's, counted on."""
    taken = {name.casefold() for name in spec.points}
    taken |= {name.casefold() for name in spec.parts_of(spec.original)}
    match = _NUMBERED.fullmatch(old)
    stem, number = (match[1], int(match[2])) if match else (old, 1)
    while f"{stem}{number}".casefold() in taken:
        number += 1
    return f"{stem}{number}"


def _old_wire(bare: WithoutSwitch, end: str) -> Wire | None:
    old = {bare.switch.terminal(lug) for lug in bare.switch.terminals}
    wires = (wire for wire in bare.spec.original.wires if end in wire.ends)
    return next((wire for wire in wires if old & {*wire.ends}), None)


def _wires(plan: LandingPlan) -> Iterator[Wire]:
    for number, wire in enumerate(plan.wires, 1):
        to = plan.switch.terminal(wire.to) if wire.jumper else wire.to
        ends = plan.switch.terminal(wire.lug), to
        yield bare_wire(f"new-{number}", ends, wire.jumper, plan.switch.place)


def _switch(bare: WithoutSwitch, offer: Offer, landing: Landing, name: str) -> Switch:
    timed = offer.timed(landing.timings).switch
    sections = tuple(
        section for section in (mapped(s, landing.detents) for s in timed.sections) if section.lugs
    )
    used = {lug for section in sections for lug in section.lugs}
    plain = offer.plain
    return replace(
        timed,
        name=name,
        control=bare.switch.control,
        sections=sections,
        idle_lugs=tuple(lug for lug in timed.terminals if lug not in used),
        throw_at=_throws(offer, landing) if plain else None,
        style=timed.style,
    )


def _throws(offer: Offer, landing: Landing) -> tuple[int | None, ...]:
    return tuple(None if offer.detents[d] == "open" else d + 1 for d in landing.detents)


def same_lugs(old: Switch, new: Switch) -> dict[str, str]:
    """Per lug of a new switch the lug of the old one in the same place.

    Plain forms go by pole and throw, whatever their lugs are called; else names count.
    """
    if old.poles and new.poles:
        pairs = zip(new.poles, old.poles, strict=False)
        return {a: b for mine, theirs in pairs for a, b in zip(mine, theirs, strict=False)}
    return {lug: lug for lug in new.terminals if lug in old.terminals}


def compared(task: SwitchTask, offer: Offer, landing: Landing) -> Result:
    """A landing held against the original."""
    plan = landing_plan(task.bare, offer, landing, "new")
    return compare_wiring(task.spec, wiring_of(task.bare, plan, "fit"))
