"""The comparison of two wirings, as a story."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from rewire.circuit.states import States
from rewire.compare.accounts import (
    added_parts,
    missing_parts,
    reversed_parts,
    spare_places,
    unstated_timings,
)
from rewire.compare.altered import altered_parts
from rewire.compare.assemble import Maker
from rewire.compare.behind import Behind
from rewire.compare.currents import interrupted_facts, stray_facts
from rewire.compare.evidence import Tracer
from rewire.compare.facts import StepFacts
from rewire.compare.findings import INFORMATION, Finding, FindingKind, Result, Verdict
from rewire.compare.flows import flows_of
from rewire.compare.hints import SLIPS, out_of_order, slips
from rewire.compare.live import live_facts
from rewire.compare.meant import Declared
from rewire.compare.roles import roles_of
from rewire.compare.rules import broken_rules
from rewire.compare.switching import Timed, bridge_facts, gap_facts
from rewire.compare.timing import assumptions
from rewire.compare.turned import turn
from rewire.compare.views import Views, views_of
from rewire.records.spec import Spec, Wiring

ORDER: tuple[FindingKind, ...] = (
    "missing", "reversed", "dropped", "inserted", "joined", "linked", "rule",
    "gap", "bridge", "interrupted", "stray", "undone", "live", "hint", "added", "altered",
    "spare", "timing",
)  # fmt: skip


def compare(spec: Spec, wirings: Sequence[str] | None = None) -> tuple[Result, ...]:
    """Compare wirings of a spec with its original.

    Args:
        spec: the checked model.
        wirings: names, in the order wanted; None for every wiring but the original.

    Raises:
        LimitReached: a question is larger than the stated limit.
        KeyError: a name that is no wiring of the spec.
    """
    names = [w.name for w in spec.others] if wirings is None else list(wirings)
    return tuple(compare_wiring(spec, spec.wirings[name]) for name in names)


def compare_wiring(spec: Spec, other: Wiring) -> Result:
    """Compare one wiring with the original: roles, rest, moves, rules, verdict."""
    states = States(spec.controls, spec.never)
    views, rest = turn(views_of(spec, other, roles_of(spec, other)), other, states)
    moves = step_facts(views, other, states)
    maker = _maker(spec, other, views, states)
    findings = [
        *missing_parts(views, other, maker.declared),
        *reversed_parts(views, other, maker.declared),
        *maker.at_rest(rest.in_nets),
        *maker.at_rest(rest.in_pairs),
        *maker.at_rest(rest.linked),
        *maker.while_switching(moves),
        *_rules(maker),
        *maker.undone(),
        *added_parts(views, other, maker.here),
        *altered_parts(spec, other, views.roles),
        *spare_places(spec, other),
        *unstated_timings(spec, other),
        *out_of_order(spec, other),
    ]
    findings += live_facts(views, states, findings)
    if any(finding.kind in SLIPS and not finding.meant for finding in findings):
        findings += slips(views, other, states, rest)
    findings.sort(key=_order)
    return Result(other.name, verdict_of(findings), states.total(), tuple(findings), other.role)


def step_facts(views: Views, other: Wiring, states: States) -> StepFacts:
    """Everything found while switching, under each reading of the timings."""
    found = StepFacts()
    for assumed in assumptions(views.spec, other):
        facts = StepFacts()
        timed = Timed(views, assumed)
        behind = Behind(flows_of(views, other, assumed), states)
        for control in views.spec.controls.values():
            gap_facts(timed, states, control, facts)
            bridge_facts(timed, states, control, facts)
            interrupted_facts(behind, control, facts)
            stray_facts(behind, control, facts)
        found.take(facts)
    return found


def verdict_of(findings: Sequence[Finding]) -> Verdict:
    """``kept``, ``changed`` or ``broken`` (contract, 'Verdict')."""
    telling = [finding for finding in findings if finding.kind not in INFORMATION]
    if not all(finding.meant for finding in telling):
        return "broken"
    if telling or any(finding.kind == "added" for finding in findings):
        return "changed"
    return "kept"


def _maker(spec: Spec, other: Wiring, views: Views, states: States) -> Maker:
    here = {anchor: anchor for anchor in views.roles.seat}
    nets = tuple(names for names in views.down.anchors.values() if len(names) > 1)
    return Maker(
        spec=spec,
        other=other,
        views=views,
        states=states,
        declared=Declared(other.changes, states),
        here=Tracer(spec, spec.original, here),
        there=Tracer(spec, other, views.roles.seat, nets),
    )


def _rules(maker: Maker) -> Iterator[Finding]:
    nets, seat = maker.views.nets[1], maker.views.roles.seat
    for broken in broken_rules(maker.spec, maker.other, nets, maker.states, seat):
        yield from maker.broken_rule(broken)


def _order(finding: Finding) -> tuple[object, ...]:
    return (
        ORDER.index(finding.kind),
        not finding.first,
        finding.groups,
        finding.meant,
        finding.part or finding.place or "",
        -1 if finding.rule is None else finding.rule,
        -1 if finding.change is None else finding.change,
        tuple(state.at for state in finding.states),
        finding.through,
    )
