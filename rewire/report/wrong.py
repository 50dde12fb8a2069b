"""What was wrong: the wiring that was found, its faults numbered on its picture and in words."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Iterator, Sequence

import networkx as nx

from rewire.bench.work_list import capital
from rewire.circuit.circuit import circuit_of
from rewire.compare.findings import INFORMATION, Finding, Result, moves, when
from rewire.compare.roles import roles_between
from rewire.draw.faults import FaultMark, with_faults
from rewire.draw.hookup import sound_hook_up
from rewire.draw.lugview import SwitchView
from rewire.draw.scene import MARGIN, PAPER, Panel
from rewire.records.spec import Spec, Wiring
from rewire.records.switches import Switch
from rewire.report.check import together
from rewire.report.packet import Packet, illustration
from rewire.report.section import Block, Illustration, ReportSection, Words
from rewire.words.wording import listing

_HEIGHT = 80.0
"""Of the picture as it is wished, mm."""
_MOST_WIRES = 24
"""With more, the decks with a fault are shown alone."""
_MOST_CASES = 2
_MOST_SAID = 3
"""Sentences about one fault."""

Fault = tuple[Finding, ...]
"""Findings about the same places: one mistake of whoever wired it."""


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
    faults = faults_of(spec, wiring, result)
    yield from _pictures(packet, wiring, faults)
    for number, fault in enumerate(faults, 1):
        yield Words(_sentence(packet, wiring, fault), mark=f"✗{number}")
    kept = [one.what for one in spec.found if one.planned == "keep"]
    if kept and wiring.role == "found":
        yield Words(f"Found, and stays as it is: {'; '.join(kept)}.")


# What is one fault -------------------------------------------------------------------------


def faults_of(spec: Spec, wiring: Wiring, result: Result) -> list[Fault]:
    """Findings that nobody meant, those about the same places or parts together."""
    found = [f for f in result.findings if not f.meant and f.kind not in INFORMATION]
    about: nx.Graph[object] = nx.Graph()
    for number, finding in enumerate(found):
        about.add_node(number)
        about.add_edges_from((number, name) for name in _names(spec, finding))
    groups = [sorted(one for one in group if isinstance(one, int))
              for group in nx.connected_components(about)]  # fmt: skip
    return [tuple(found[number] for number in group) for group in sorted(groups)]


def _names(spec: Spec, finding: Finding) -> Iterator[str]:
    """The parts and points that a finding is about, but for the chassis and what is on it."""
    chassis = {point.name for point in spec.points.values() if point.chassis}
    groups = [group for group in finding.groups if not chassis & set(group)]
    for anchor in (anchor for group in groups or finding.groups for anchor in group):
        yield from (one.partition(".")[0] for one in anchor.split("/"))
    yield from filter(None, (finding.part,))


# Where it is -------------------------------------------------------------------------------


def _pictures(packet: Packet, wiring: Wiring, faults: Sequence[Fault]) -> Iterator[Illustration]:
    marks = [
        FaultMark(number, tuple(_shows(packet.spec, wiring, fault)))
        for number, fault in enumerate(faults, 1)
    ]
    title = f"{wiring.name} from behind, its faults numbered"
    for panel in _panels(packet, wiring):
        marked = with_faults(panel, marks)
        if marked is not None:
            yield illustration(title, marked)


def _panels(packet: Packet, wiring: Wiring) -> Iterator[Panel]:
    """The hook-up; where it is too much for one picture, every deck."""
    width = PAPER[packet.paper][0] - 2 * MARGIN
    many = len(wiring.wires) > _MOST_WIRES
    whole = None if many else sound_hook_up(packet.spec, wiring, width, _HEIGHT)
    if whole is not None:
        yield whole
        return
    for switch in packet.spec.all_of(Switch, wiring).values():
        view = SwitchView(packet.spec, wiring, switch, "behind", packet.paper)
        yield from view.drawn(0.0)


def _shows(spec: Spec, wiring: Wiring, fault: Fault) -> Iterator[str]:
    """What a picture may show of a fault: its part, the lug where a lead ends, the point."""
    names = Counter(name for finding in fault for name in set(_names(spec, finding)))
    order = [name for name, _ in names.most_common()]
    own = {of: name for of in order for name in (roles_between(spec, wiring).place(of) or of,)}
    net, parts = circuit_of(spec, wiring).nets.of, spec.parts_of(wiring)
    switches = spec.all_of(Switch, wiring)
    ends = [end for finding in fault for end in finding.ends_at if end in net]
    for name in order:
        if own[name] in parts and own[name] not in switches:
            yield f"part:{own[name]}"
        for end in ends:
            if own[name] in net and net[end] == net[own[name]]:
                yield from _lug(end)
    for end in ends:
        yield from _lug(end)
    yield from (f"lug:{own[name]}" for name in order)
    yield from (f"point:{own[name]}" for name in order)


def _lug(terminal: str) -> Iterator[str]:
    """As the hook-up names a lug, then as the view of one switch does."""
    yield f"lug:{terminal}"
    yield f"lug:{terminal.partition('.')[2]}"


# What it does ------------------------------------------------------------------------------


def _sentence(packet: Packet, wiring: Wiring, fault: Fault) -> str:
    """What is the matter, when, and what that does to the set."""
    own = [group[0] for group in together([f for f in fault if f.kind != "rule"])]
    told = own or list(fault)
    said = [f"{capital(one.message)}{_when(one)}" for one in told[:_MOST_SAID]]
    if len(told) > _MOST_SAID:
        said.append(f"And {len(told) - _MOST_SAID} more of the same places")
    whys = dict.fromkeys(f.why for f in fault if f.kind == "rule" and f.why)
    said += [*map(capital, whys), *_misread(packet, wiring, fault)]
    return f"{'. '.join(said)}."


def _when(finding: Finding) -> str:
    said = moves(finding) if finding.steps else when(finding, _MOST_CASES)
    return f" {said}" if said else ""


def _misread(packet: Packet, wiring: Wiring, fault: Fault) -> Iterator[str]:
    """The readings that are off where the fault is."""
    values = packet.values.get(wiring.name)
    off = [
        f"{one.name} at {100.0 * one.deflection:.0f} %"
        for one in (values.readings if values else ())
        if one.deflection is not None and one.off and _overlaps(fault, one.state)
    ]
    if off:
        yield f"At full scale the meter shows {listing(off)} of it"


def _overlaps(fault: Iterable[Finding], at: object) -> bool:
    states = [state.as_dict() for finding in fault for state in finding.states]
    here = dict(at) if isinstance(at, dict) else {}
    return any(all(here.get(name, p) == p for name, p in state.items()) for state in states)
