"""Switches that might take the old one's place, and where its wires go on them."""

from __future__ import annotations

import re
from collections.abc import Collection, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from itertools import pairwise, permutations

from rewire.circuit import LimitReached
from rewire.circuit.graph import by_first
from rewire.compare import Finding, Result, compare_wiring
from rewire.compare.findings import DECLARES, FindingKind
from rewire.fit.encoding import Detents, Landing, mapped
from rewire.fit.task import SwitchTask, WithoutSwitch
from rewire.reading.buzzout import Buzzout, switch_of
from rewire.reading.drawer import Drawer, read_drawer_text
from rewire.records.part import Place, Timing
from rewire.records.spec import Change, ChangeKind, Net, Spec, Wire, Wiring
from rewire.records.switches import Switch, read_form

MOST_IN_ANY_ORDER = 5


@dataclass(frozen=True)
class Offer:
    """A switch on hand; its sections' groups are told per detent."""

    name: str
    """What it is called in tables: ``4P3T``, or where it lies."""
    switch: Switch
    detents: tuple[str, ...]
    quantity: int = 1

    @property
    def plain(self) -> tuple[int, int] | None:
        """Poles and throws of a plain form, None for a table."""
        return read_form(self.switch.form)

    @property
    def open_timings(self) -> bool:
        """Whether a section's timing is not stated, or not known."""
        return any(not s.timing_stated or s.timing == "unknown" for s in self.switch.sections)

    def lesser(self, poles: int, throws: int) -> Offer:
        """A plain form of which only so many poles and throws are used; other lugs are left out."""
        rows = tuple(pole[: throws + 1] for pole in self.switch.poles[:poles])
        kept = {lug for row in rows for lug in row}
        sections = tuple(
            replace(s, lugs=_those_in(s.lugs, kept), groups=s.groups[:throws])
            for s in self.switch.sections
            if kept & {*s.lugs}
        )
        switch = replace(
            self.switch,
            terminals=_those_in(self.switch.terminals, kept),
            idle_lugs=_those_in(self.switch.idle_lugs, kept),
            sections=sections,
            poles=rows,
        )
        return replace(self, switch=switch, detents=self.detents[:throws])

    def timed(self, timings: Sequence[Timing]) -> Offer:
        """The same switch with a timing stated for each section."""
        pairs = zip(self.switch.sections, timings, strict=True)
        sections = tuple(replace(s, timing=timing, timing_stated=True) for s, timing in pairs)
        return replace(self, switch=replace(self.switch, sections=sections))

    def with_open_timings_non_shorting(self) -> Offer:
        """Sections of unknown timing taken as non-shorting until a wiring needs otherwise."""
        taken = tuple(
            replace(s, timing="non-shorting" if s.timing == "unknown" else s.timing)
            for s in self.switch.sections
        )
        return replace(self, switch=replace(self.switch, sections=taken))


def _those_in(lugs: Sequence[str], kept: Collection[str]) -> tuple[str, ...]:
    return tuple(lug for lug in lugs if lug in kept)


def offer_of_form(form: str, timing: str | None = None) -> Offer:
    """A switch of a plain form.

    Args:
        form: ``4P3T`` and the like.
        timing: of all its sections; None where it is not stated.

    Raises:
        ValueError: no such form.
    """
    if read_form(form) is None:
        raise ValueError(form)
    stated = f", timing: {timing}" if timing else ""
    text = f"rewire_drawer: 1\nswitches: [{{switch: {form}{stated}}}]\n"
    stocked = read_drawer_text(text.encode(), form).switches[0]
    return replace(_offer(stocked.part), name=stocked.part.form)


def offers_of_drawer(drawer: Drawer) -> Iterator[Offer]:
    """Every switch that lies in a drawer, in its order."""
    for stocked in drawer.switches:
        if stocked.quantity:
            yield replace(_offer(stocked.part), quantity=stocked.quantity)


def offer_of_buzzout(buzzout: Buzzout) -> Offer:
    """The switch that was buzzed."""
    switch = switch_of(buzzout, "buzzed")
    return Offer(buzzout.title or buzzout.file, switch, buzzout.detents)


def _offer(switch: Switch) -> Offer:
    count = max((len(section.groups) for section in switch.sections), default=0)
    form = read_form(switch.form)
    if form is not None and form[1] == 1:
        return Offer(switch.name, switch, ("1", "open"))
    return Offer(switch.name, switch, tuple(str(n) for n in range(1, count + 1)))


def detents_for(offer: Offer, task: SwitchTask) -> list[Detents]:
    """Which detents may serve the positions; consecutive ones, for the knob needs its stops.

    The throws of a plain form are alike, so the first ones in the order asked for stand
    for every other choice. A form of one throw has no order that a legend could follow:
    closed first and open first are both tried.

    Raises:
        LimitReached: any order is asked for, and there are too many.
    """
    form, order, positions = offer.plain, task.order, len(task.demands)
    starts = range(len(offer.detents) - positions + 1)
    rising = [tuple(range(start, start + positions)) for start in starts]
    falling = [tuple(reversed(some)) for some in rising]
    if form is not None and form[1] == 1:
        return [*rising, *falling]
    if form is not None:
        return falling[:1] if order == "reversed" else rising[:1]
    if order != "any":
        return falling if order == "reversed" else rising
    if rising and positions > MOST_IN_ANY_ORDER:
        raise LimitReached(
            f"any order of {positions} positions: more than {MOST_IN_ANY_ORDER} are not tried; "
            "ask for in-order or reversed"
        )
    return [some for run in rising for some in permutations(run)]


def keeps_neighbours(detents: Detents) -> bool:
    """Whether the knob passes the positions in the order of travel, one way or the other."""
    return list(detents) in (sorted(detents), sorted(detents, reverse=True))


def in_order_of(spec: Spec, control: str, detents: Detents) -> Spec:
    """A spec whose control passes its positions as the detents do, in every wiring.

    What happens between two detents is then judged between the positions that they serve.
    """
    order = sorted(range(len(detents)), key=lambda position: detents[position])
    old = spec.controls[control]
    turned = replace(old, positions=tuple(old.positions[at] for at in order))
    wirings = {}
    for name, wiring in spec.wirings.items():
        switches = spec.all_of(Switch, wiring).items()
        moved = {n: _in_order(one, order) for n, one in switches if one.control == control}
        wirings[name] = replace(wiring, parts={**wiring.parts, **moved})
    return replace(spec, controls={**spec.controls, control: turned}, wirings=wirings)


def _in_order(switch: Switch, order: Sequence[int]) -> Switch:
    """A switch with its positions put in another order."""
    sections = tuple(replace(s, groups=tuple(s.groups[n] for n in order)) for s in switch.sections)
    throws = switch.throw_at and tuple(switch.throw_at[at] for at in order)
    return replace(switch, sections=sections, throw_at=throws)


_CHANGES: Mapping[FindingKind, ChangeKind] = {found: kind for kind, found in DECLARES.items()}
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
        """Per lug the terminals and points wired there."""
        found = by_first((wire.lug, wire.to) for wire in self.wires if not wire.jumper)
        return {lug: found[lug] for lug in self.switch.terminals if lug in found}

    @property
    def jumpers(self) -> list[tuple[str, str]]:
        """Pairs of lugs."""
        return [(wire.lug, wire.to) for wire in self.wires if wire.jumper]


def landing_plan(bare: WithoutSwitch, offer: Offer, landing: Landing, name: str) -> LandingPlan:
    """Choose the lug of each net that its stubs land on, and lay the jumpers.

    A stub goes where its wire was if that lug is on its net, else on the first lug of
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
    return tuple(
        Change(
            kind=_CHANGES[finding.kind],
            parts=(),
            anchors=(finding.groups[0][0], other[0]),
            when=_covering(finding),
            why="waived when the switch was fitted",
            reversible=True,
            place=place,
        )
        for finding in findings
        if finding.kind in waived
        for other in finding.groups[1:]
    )


def _covering(finding: Finding) -> dict[str, tuple[str, ...]]:
    """Positions that cover both ends of every step."""
    ends = (end for step in finding.steps for end in (step.before, step.after))
    stands = by_first(dict.fromkeys(one for end in ends for one in end.at))
    return {control: tuple(positions) for control, positions in stands.items()}


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
    old = {*bare.switch.full_terminals}
    wires = (wire for wire in bare.spec.original.wires if end in wire.ends)
    return next((wire for wire in wires if old & {*wire.ends}), None)


def _wires(plan: LandingPlan) -> Iterator[Wire]:
    for number, wire in enumerate(plan.wires, 1):
        to = plan.switch.terminal(wire.to) if wire.jumper else wire.to
        ends = plan.switch.terminal(wire.lug), to
        place = plan.switch.place
        yield Wire(id=f"new-{number}", ends=ends, jumper=wire.jumper, place=place)


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


def landing_compared(task: SwitchTask, offer: Offer, landing: Landing) -> Result:
    """A wiring held against the original."""
    plan = landing_plan(task.bare, offer, landing, "new")
    return compare_wiring(task.spec, wiring_of(task.bare, plan, "fit"))
