"""Hints: one slip that would explain what was found at rest."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import replace
from itertools import combinations, islice, pairwise

from rewire.circuit.states import States
from rewire.compare.altered import differences
from rewire.compare.findings import Finding, FindingKind
from rewire.compare.rest import AtRest, rest_facts
from rewire.compare.roles import has_role
from rewire.compare.views import Views, views_of
from rewire.records.spec import Control, Part, Spec, Switch, Wiring

MOST_TRIALS = 20
"""Slips of one kind that are tried."""
MOST_NETS = 2000
"""Nets of a wiring in which slips are looked for."""


SLIPS: frozenset[FindingKind] = frozenset({"dropped", "joined"})
"""Findings for which a slip is looked for."""


def slips(views: Views, other: Wiring, states: States, rest: AtRest) -> Iterator[Finding]:
    """Single slips, each of which would explain much of what was found at rest."""
    count = rest.count(states)
    if count and len(views.nets[1].members) <= MOST_NETS:
        yield from _exchanged(views, other, states, rest, count)
        yield from _run_backwards(views, other, states, count)


def out_of_order(spec: Spec, other: Wiring) -> Iterator[Finding]:
    """Controls whose order of travel is not that of the throws."""
    for part in spec.parts_of(other).values():
        if not isinstance(part, Switch) or part.style not in ("rotary", "slide"):
            continue
        control = spec.controls[part.control]
        throws = [at for at in part.throw_at or () if at is not None]
        if not _in_order(throws, control):
            yield _hint(
                part.name,
                f"{part.name}: {', '.join(control.positions)} of {control.name} are on throws "
                f"{', '.join(str(at or 'open') for at in part.throw_at or ())}: not the order in "
                "which the knob goes; the throws between are passed over",
            )


def _in_order(throws: Sequence[int], control: Control) -> bool:
    """Rising, falling, or rising and falling once round where the knob goes round."""
    if control.moves_any:
        return True
    rising = sum(b < a for a, b in pairwise(throws))
    falling = sum(b > a for a, b in pairwise(throws))
    if control.wraps and throws:
        ends = throws[-1], throws[0]
        return (rising + (ends[1] < ends[0]) <= 1) or (falling + (ends[1] > ends[0]) <= 1)
    return not rising or not falling


def _exchanged(
    views: Views, other: Wiring, states: States, rest: AtRest, count: int
) -> Iterator[Finding]:
    """Two parts alike, each in the other's place."""
    named = {
        anchor.partition(".")[0]
        for facts in (rest.in_nets, rest.in_pairs)
        for _, groups in facts.of
        for group in groups
        for anchor in group
        if "." in anchor
    }
    here = views.spec.original.parts
    ours = [n for n in sorted(named) if n in here and n in other.parts and has_role(here[n])]
    alike = ((a, b) for a, b in combinations(ours, 2) if _alike(here[a], here[b]))
    for a, b in islice(alike, MOST_TRIALS):
        swap = {
            here[one].terminal(lug): here[two].terminal(lug)
            for one, two in ((a, b), (b, a))
            for lug in here[one].terminals
        }
        seat = {t: views.roles.seat.get(swap.get(t, t), at) for t, at in views.roles.seat.items()}
        trial = views_of(views.spec, other, replace(views.roles, seat=seat))
        if rest_facts(trial, states).count(states) < count:
            yield _hint(
                a,
                f"{a} and {b} are exchanged; they are alike: write `replaces: {b}` with {a} "
                f"and `replaces: {a}` with {b}, or change their names",
            )


def _alike(one: Part, two: Part) -> bool:
    return one.kind == two.kind and not any(differences(one, two))


def _run_backwards(views: Views, other: Wiring, states: States, count: int) -> Iterator[Finding]:
    """Switches whose positions, read from the other end, explain most of what was found."""
    switches = [p for p in other.parts.values() if isinstance(p, Switch)]
    for switch in switches[:MOST_TRIALS]:
        sections = tuple(replace(s, groups=s.groups[::-1]) for s in switch.sections)
        turned = replace(switch, sections=sections)
        parts = {**other.parts, switch.name: turned}
        trial = views_of(views.spec, replace(other, parts=parts), views.roles)
        if 2 * rest_facts(trial, states).count(states) < count:
            yield _hint(
                switch.name,
                f"{switch.name} is wired the wrong way round: with its positions in the opposite "
                "order most of this would be right; see which end the knob begins at",
            )


def _hint(place: str, message: str) -> Finding:
    return Finding(kind="hint", meant=False, message=message, place=place)
