"""What was wrong: the wiring that was found, its faults numbered on its picture and in words."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from rewire.bench.mends import mends_of
from rewire.bench.work_list import DO_NOT_BUILD, capital
from rewire.circuit.circuit import circuit_of
from rewire.compare.findings import Finding, Result
from rewire.compare.roles import roles_between
from rewire.draw.faults import FaultMark, with_faults
from rewire.draw.hookup import hook_up, hook_up_in_brief
from rewire.draw.lugview import SwitchView
from rewire.draw.scene import FOOT, MARGIN, PAPER, Panel
from rewire.records.parts import Meter
from rewire.records.spec import Spec, Wiring
from rewire.records.switches import Switch
from rewire.report.check import Told, about_finding, tellings, when_all
from rewire.report.checked import mends_by_fault
from rewire.report.packet import Packet, illustration
from rewire.report.section import Block, Illustration, ReportSection, Words

_HEIGHT = 76.0
"""Of the picture as it is wished, mm."""
_DECK = 110.0
"""Room for one deck, so that each is a picture of its own, mm."""
_MOST_WIRES = 24
"""With more, the decks with a fault are shown alone."""


def wrong_sections(packet: Packet) -> Iterator[ReportSection]:
    """Each wiring that was found broken, and each broken plan, with its faults."""
    plans = {wiring.name for wiring in packet.plans}
    for wiring in packet.wirings:
        result = next((one for one in packet.results if one.wiring == wiring.name), None)
        told = wiring.role == "found" or wiring.name in plans
        if told and result is not None and result.verdict == "broken":
            was = "What was wrong" if wiring.role == "found" else "What is wrong"
            yield ReportSection("wrong", f"{was}: {wiring.name}", tuple(_told(packet, result)))


def _told(packet: Packet, result: Result) -> Iterator[Block]:
    spec, wiring = packet.spec, packet.spec.wirings[result.wiring]
    (telling,) = tellings([result])
    if wiring.role != "found":
        yield Words(f"{wiring.name} {DO_NOT_BUILD}", "BROKEN", bold=True)
    yield from _pictures(packet, wiring, telling.wrong)
    # what was found is mended by the work that follows
    mends = () if wiring.role == "found" else mends_of(spec, wiring, result)
    by_fault = mends_by_fault(telling, mends)
    for told in telling.wrong:
        yield Words(
            sentence_on(told, result.states), mark=f"✗{told.number}",
            under=tuple(by_fault.get(told.number, ())), about=about_finding(result, told),
        )  # fmt: skip
    yield from _misread(packet, wiring)


def _pictures(packet: Packet, wiring: Wiring, faults: Sequence[Told]) -> Iterator[Illustration]:
    marks = marks_on(packet.spec, wiring, faults)
    title = f"{wiring.name} from behind, its faults numbered"
    for panel in _panels(packet, wiring):
        marked = with_faults(panel, marks)
        if marked is not None:
            yield illustration(title, marked)


def marks_on(spec: Spec, wiring: Wiring, faults: Sequence[Told]) -> tuple[FaultMark, ...]:
    """The numbers of faults with what each belongs to on a picture of a wiring."""
    return tuple(FaultMark(one.number or 0, tuple(_shows(spec, wiring, one))) for one in faults)


def _panels(packet: Packet, wiring: Wiring) -> Iterator[Panel]:
    """The hook-up; where it is too much for one picture, every deck."""
    width = PAPER[packet.paper][0] - 2 * MARGIN
    many = len(wiring.wires) > _MOST_WIRES
    draw = hook_up_in_brief if packet.carded else hook_up
    whole = None if many else draw(packet.spec, wiring, width, _HEIGHT)
    if whole is not None:
        yield whole
        return
    for switch in packet.spec.all_of(Switch, wiring).values():
        view = SwitchView(packet.spec, wiring, switch, "behind", packet.paper)
        yield from view.drawn(PAPER[packet.paper][1] - 2 * MARGIN - FOOT - _DECK)


def _shows(spec: Spec, wiring: Wiring, told: Told) -> Iterator[str]:
    """What a picture may show of a fault: its part, the lug where a lead ends, the point."""
    names = dict.fromkeys(name for finding in told.alike for name in _names(spec, finding))
    own = [roles_between(spec, wiring).place(name) or name for name in names]
    net, parts = circuit_of(spec, wiring).nets.of, spec.parts_of(wiring)
    switches = spec.all_of(Switch, wiring)
    ends = [end for finding in told.alike for end in finding.ends_at if end in net]
    for name in own:
        if name in parts and name not in switches:
            yield f"part:{name}"
        yield from (f"lug:{end}" for end in ends if name in net and net[end] == net[name])
    yield from (f"lug:{end}" for end in ends)
    yield from (f"lug:{name}" for name in own)
    yield from (f"point:{name}" for name in own)


def _names(spec: Spec, finding: Finding) -> Iterator[str]:
    """The parts and points that a finding is about, but for the chassis and what is on it."""
    yield from filter(None, (finding.part,))
    chassis = {point.name for point in spec.points.values() if point.chassis}
    groups = [group for group in finding.groups if not chassis & set(group)]
    anchors = [one for group in groups or finding.groups for anchor in group
               for one in anchor.split("/")]  # fmt: skip
    parts = {name.partition(".")[0] for name in anchors if "." in name}
    meters = {name for name in parts if name in spec.all_of(Meter, spec.original)}
    yield from sorted(parts - meters)
    yield from (name for name in anchors if "." not in name)
    yield from sorted(meters)


def sentence_on(told: Told, states: int) -> str:
    """What is the matter, when, and what that does to the set."""
    at = when_all(told.alike, states)
    said = [f"{told.message} ({at})" if at else told.message]
    said += [rule.why for rule in (*told.rules, told.first) if rule.why]
    return f"{'. '.join(map(capital, dict.fromkeys(said)))}."


def _misread(packet: Packet, wiring: Wiring) -> Iterator[Words]:
    """The readings that are off."""
    values = packet.values.get(wiring.name)
    off = [
        f"{one.name} {100.0 * one.deflection:.0f} %"
        for one in (values.readings if values else ())
        if one.deflection is not None and one.off
    ]
    if off:
        yield Words(f"So at full scale the pointer shows: {', '.join(off)}.")
