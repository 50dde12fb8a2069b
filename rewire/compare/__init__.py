"""Comparing: does another wiring keep every connection of the original?

In come a spec and the names of wirings, out go a ``Result`` each: a verdict and its findings.
Begin with ``compare_wiring`` below, then read ``comparison``.
"""

from __future__ import annotations

from collections.abc import Sequence

from rewire.circuit.states import States
from rewire.compare import inventory
from rewire.compare.assemble import Maker
from rewire.compare.findings import ORDER, Finding, Result, State, Step, verdict_of
from rewire.compare.roles import turn
from rewire.compare.rules import broken_rules
from rewire.compare.while_switching import step_facts
from rewire.records.spec import Spec, Wiring

__all__ = ["Finding", "Result", "State", "Step", "compare", "compare_wiring"]


def compare(spec: Spec, wirings: Sequence[str] | None = None) -> tuple[Result, ...]:
    """Compare wirings of a spec, by name, with its original; None for every one but that.

    Raises:
        LimitReached: a question is larger than the stated limit.
        KeyError: a name that is no wiring of the spec.
    """
    names = [w.name for w in spec.others] if wirings is None else list(wirings)
    return tuple(compare_wiring(spec, spec.wirings[name]) for name in names)


def compare_wiring(spec: Spec, other: Wiring) -> Result:
    """Compare one wiring with the original: roles, rest, moves, rules, verdict."""
    states = States(spec.controls, spec.never)
    both, rest = turn(spec, other, states)
    moves = step_facts(both, states)
    maker = Maker(both, states)
    switches = both.there.switches
    findings = [
        *inventory.missing_parts(both, maker.declared.of_part),
        *inventory.reversed_parts(both, maker.declared.of_part),
        *maker.at_rest(rest),
        *maker.while_switching(moves),
        *maker.rules(broken_rules(both, states)),
        *maker.undone(),
        *inventory.added_parts(both, maker.here),
        *inventory.altered_parts(both),
        *inventory.spare_places(both),
        *inventory.unstated_timings(switches),
        *inventory.out_of_order(spec, switches),
    ]
    findings += inventory.live_points(both, states, findings)
    if any(finding.kind in inventory.SLIPS and not finding.meant for finding in findings):
        findings += inventory.slips(both, states, rest)
    findings.sort(key=_order)
    return Result(
        wiring=other.name,
        verdict=verdict_of(findings),
        states=states.total(),
        findings=tuple(findings),
        role=other.role,
        compared=bool(spec.others or spec.rules or other.role),
    )


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
