"""Part by part: missing, turned, new, of another value, spare; and slips that explain much."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import replace
from itertools import combinations, islice, pairwise
from math import isclose, prod

from rewire.circuit.connectivity import bonds_at_rest, connected, controls_of
from rewire.circuit.states import States
from rewire.compare.comparison import Comparison, rest_facts
from rewire.compare.evidence import Tracer
from rewire.compare.findings import (
    Finding,
    FindingKind,
    RestFacts,
    State,
    as_written,
    group_name,
    in_states,
)
from rewire.records.part import Part, Stated
from rewire.records.spec import Control, Point, Spec
from rewire.records.switches import Switch
from rewire.words.wording import listing

WhyOf = Callable[[FindingKind, str], str | None]
"""The reason why a part is declared missing or reversed, '' for none given; None if it is not."""
SLIPS: frozenset[FindingKind] = frozenset({"dropped", "joined"})
"""Findings for which a slip is looked for."""
MOST_TRIALS = 20
"""Slips of one kind that are tried."""
MOST_NETS = 2000
"""Nets of a wiring in which slips are looked for."""


def missing_parts(both: Comparison, why_of: WhyOf) -> Iterator[Finding]:
    """Original parts that nothing replaces."""
    for name in both.roles.missing:
        part = both.spec.original.parts[name]
        why = why_of("missing", name)
        gone = [t for t in part.full_terminals if t not in both.roles.seat]
        whole = len(gone) == len(part.terminals)
        what = f"{part.kind} {name}" if whole else f"{listing(gone)} of {part.kind} {name}"
        said = "is removed" if why is not None else "has nothing in its place"
        like = [one.name for one in both.added if whole and one.kind == part.kind]
        if why is None and like:
            said += f"; did you mean {listing([f'{n}: replaces: {name}' for n in like], 'or')}?"
        said = f"{what} of the original {said}"
        yield Finding("missing", why is not None, said, why=why or None, part=name)


def reversed_parts(both: Comparison, why_of: WhyOf) -> Iterator[Finding]:
    """Meters, diodes and polarised capacitors that are connected the other way round."""
    parts = {**both.spec.parts, **both.spec.original.parts}
    for name in sorted(parts):
        part = parts[name]
        heir = _turned(part, both.there.parts, both.roles.seat)
        if heir is None:
            continue
        why = why_of("reversed", name)
        stands = f" ({heir.name} stands for it)" if heir.name != name else ""
        said = f"{part.kind} {name}{stands} is connected the other way round"
        now = "; ".join(_where_now(part, heir, both))
        yield Finding("reversed", why is not None, said, now=now, why=why or None, part=name)


def _turned(part: Part, there: Mapping[str, Part], seat: Mapping[str, str]) -> Part | None:
    """What replaces a part that has a polarity, if it is the other way round."""
    places = [seat.get(terminal, "") for terminal in part.full_terminals]
    heir = there.get(places[0].partition(".")[0])
    if heir is None or heir.kind != part.kind or len(places) != 2:
        return None
    return heir if (part.polar or heir.polar) and places == [*heir.full_terminals[::-1]] else None


def _where_now(part: Part, heir: Part, both: Comparison) -> Iterator[str]:
    """Per terminal of the original part: which terminal is there now, and by which wire."""
    relation = "must be" if heir.name == part.name else "was"
    for terminal in part.full_terminals:
        now = both.roles.seat[terminal]
        ids = [wire.id for wire in both.other.wires if now in wire.ends and wire.id]
        wires = f" (wire {listing(ids)})" if ids else ""
        yield f"{now}{wires} is where {terminal} {relation}"


def added_parts(both: Comparison, here: Tracer) -> Iterator[Finding]:
    """Parts that replace nothing in the original, with the nets that they link."""
    anchors = both.up.anchors
    for part in both.added:
        nets = dict.fromkeys(both.there.nets.of[terminal] for terminal in part.full_terminals)
        groups = sorted(anchors[net] for net in nets if net in anchors)
        linked = listing([group_name(group, both.spec.points) for group in groups])
        beside = here.parts_between(tuple(groups[:2])) if part.passes_dc and len(groups) > 1 else ()
        said = f"{part.kind} {part.name} is new"
        said += f", {'across' if len(groups) > 1 else 'at'} {linked}" if linked else ""
        said += f", beside {listing(beside)}" if beside else ""
        yield Finding("added", False, said, tuple(groups), part=part.name)


def altered_parts(both: Comparison) -> Iterator[Finding]:
    """Parts in a role that differ from the original's, with both values."""
    for part in both.spec.original.parts.values():
        takers = both.roles.takers(part) if part.has_role else ()
        whole = set(part.full_terminals) <= both.roles.seat.keys()
        heir = both.other.parts.get(takers[0]) if whole and len(takers) == 1 else None
        if heir is None:  # nothing, or not one part alone, replaces all of it
            continue
        told = list(differences(part, heir)) if heir.kind == part.kind else []
        message, first = "", any(grave for _, grave in told)
        if heir.kind != part.kind:
            message = f"{heir.kind} {heir.name} stands in the place of {part.kind} {part.name}"
            first = True
        elif told:
            named = heir.name if heir.name == part.name else f"{heir.name} for {part.name}"
            message = f"{heir.kind} {named}: {'; '.join(text for text, _ in told)}"
        if message:
            yield Finding("altered", False, message, part=part.name, first=first)


def differences(was: Part, now: Part) -> Iterator[tuple[str, bool]]:
    """What differs in two parts of a kind, in words, and whether to read that first."""
    for one, two in zip(was.stated, now.stated, strict=False):
        if not _alike(one, two):
            yield f"{one.word} {_said(two)}, was {_said(one)}".strip(), _is_worse(one, two)


def _alike(one: Stated, two: Stated) -> bool:
    """Whether two values are the same; what only one part says is not known to differ."""
    a, b = one.value, two.value
    if isinstance(a, float) and isinstance(b, float) and one.unit == two.unit:
        return isclose(a, b, rel_tol=1e-9)
    if (a is None or b is None) and one.unknown is None:
        return True
    return (a, one.unit) == (b, two.unit)


def _is_worse(was: Stated, now: Stated) -> bool:
    one, two = was.value, now.value
    if was.worse is None or was.worse == "other":
        return was.worse == "other"
    less = isinstance(one, float) and isinstance(two, float) and two < one
    return less is (was.worse == "less")


def _said(stated: Stated) -> str:
    if stated.value is None:
        return stated.unknown or ""
    if isinstance(stated.value, str):
        return stated.value
    return as_written(stated.value, stated.unit)


def spare_places(both: Comparison) -> Iterator[Finding]:
    """Lugs nobody uses, parts nobody connects, throws beyond the control's positions."""
    used = {t for joint in both.there.soldered if len(joint) > 1 for t in joint}
    for part in both.there.parts.values():
        free = [terminal for terminal in part.full_terminals if terminal not in used]
        if not part.has_role:
            yield from (Finding("spare", False, f"lug {g} is not used", place=g) for g in free)
        elif len(free) == len(part.terminals):
            said = f"{part.kind} {part.name} is connected to nothing"
            yield Finding("spare", False, said, place=part.name)
    for switch in both.there.switches:
        yield from _throws_beyond(switch, both.spec.controls[switch.control].wraps)


def _throws_beyond(switch: Switch, wraps: bool) -> Iterator[Finding]:
    if switch.throws is None or switch.throw_at is None:
        return
    served = {throw for throw in switch.throw_at if throw is not None}
    for throw in range(1, switch.throws + 1):
        if throw in served:
            continue
        within = any(one < throw for one in served) and any(one > throw for one in served)
        has_stop = switch.style in (None, "rotary") and not within and not wraps
        do = "set the stop" if has_stop else "no stop keeps the knob off it"
        said = f"{switch.name} has a throw {throw} that no position of {switch.control} uses: {do}"
        yield Finding("spare", False, said, place=f"{switch.name} throw {throw}")


def unstated_timings(switches: Sequence[Switch]) -> Iterator[Finding]:
    """Switches whose timing the spec does not state: read as non-shorting."""
    for switch in switches:
        if not all(section.timing_stated for section in switch.sections):
            said = f"{switch.name}: timing not stated, taken as non-shorting"
            yield Finding("timing", False, said, place=switch.name)


def out_of_order(spec: Spec, switches: Sequence[Switch]) -> Iterator[Finding]:
    """Controls whose order of travel is not that of the throws."""
    for switch in switches:
        control = spec.controls[switch.control]
        throws = [at for at in switch.throw_at or () if at is not None]
        if switch.style in ("rotary", "slide") and not _in_order(throws, control):
            said = (
                f"{switch.name}: {', '.join(control.positions)} of {control.name} are on throws "
                f"{', '.join(str(at or 'open') for at in switch.throw_at or ())}: not the order in "
                "which the knob goes; the throws between are passed over"
            )
            yield Finding("hint", False, said, place=switch.name)


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


def slips(both: Comparison, states: States, rest: RestFacts) -> Iterator[Finding]:
    """Single mistakes, each of which would explain much of what was found at rest."""
    count = rest.count(states)
    if count and len(both.there.nets.members) <= MOST_NETS:
        yield from _exchanged(both, states, rest, count)
        yield from _run_backwards(both, states, rest, count)


def _exchanged(both: Comparison, states: States, rest: RestFacts, count: int) -> Iterator[Finding]:
    """Two parts alike, each in the other's place."""
    named = {
        anchor.partition(".")[0]
        for kind, groups in rest.of
        for group in groups
        for anchor in group
        if "." in anchor and kind != "linked"
    }
    here, there = both.spec.original.parts, both.other.parts
    ours = [n for n in sorted(named) if n in here and n in there and here[n].has_role]
    alike = (
        (a, b)
        for a, b in combinations(ours, 2)
        if here[a].kind == here[b].kind and not any(differences(here[a], here[b]))
    )
    for a, b in islice(alike, MOST_TRIALS):
        one, two = here[a].full_terminals, here[b].full_terminals
        swap = dict(zip((*one, *two), (*two, *one), strict=True))
        seat = {t: both.roles.seat.get(swap.get(t, t), at) for t, at in both.roles.seat.items()}
        trial = replace(both, roles=replace(both.roles, seat=seat))
        if rest_facts(trial, states).count(states) < count:
            said = (
                f"{a} and {b} are exchanged; they are alike: write `replaces: {b}` with {a} "
                f"and `replaces: {a}` with {b}, or change their names"
            )
            yield Finding("hint", False, said, place=a)


def _run_backwards(
    both: Comparison, states: States, rest: RestFacts, count: int
) -> Iterator[Finding]:
    """Switches whose positions, read from the other end, explain most of the findings."""
    switches = (
        switch
        for switch in both.there.switches
        if 2 * rest.count(states, _anchors_on(both, switch)) > count
    )
    for switch in islice(switches, MOST_TRIALS):
        sections = tuple(replace(s, groups=s.groups[::-1]) for s in switch.sections)
        parts = {**both.other.parts, switch.name: replace(switch, sections=sections)}
        trial = replace(both, other=replace(both.other, parts=parts))
        if 2 * rest_facts(trial, states).count(states) < count:
            said = (
                f"{switch.name} is wired the wrong way round: with its positions in the opposite "
                "order most of this would be right; see which end the knob begins at"
            )
            yield Finding("hint", False, said, place=switch.name)


def _anchors_on(both: Comparison, switch: Switch) -> set[str]:
    """Anchors on the nets of a switch's lugs, in either wiring."""
    found: set[str] = set()
    for circuit, way in ((both.here, both.down), (both.there, both.up)):
        for net in {circuit.nets.of.get(switch.terminal(lug), -1) for lug in switch.terminals}:
            found.update(way.anchors.get(net, ()))
    return found


MOST_STATES = 4096


def live_points(both: Comparison, states: States, findings: Sequence[Finding]) -> Iterator[Finding]:
    """What follows from declared joins and links: volts where the original had none.

    Two points count if one has volts and the other is the chassis or has other volts, and the
    other wiring joins them, or links them over added parts, where the original has no path.
    """
    declared = {f.kind for f in findings if f.meant and f.kind in ("joined", "linked")}
    if not declared:
        return
    points = [p for p in both.spec.points.values() if p.chassis or p.volts or p.rises_to]
    found: dict[tuple[str, tuple[State, ...]], list[str]] = {}
    for one, two in combinations(sorted(points, key=lambda p: p.chassis), 2):
        if _volts(one) != _volts(two):
            at = _put_on(both, states, one, two, sorted(declared))
            found.setdefault((two.name, at), []).append(one.name)
    for (two_name, at), names in found.items():
        if at:
            said = f"what is declared puts {listing(names)} on {two_name} {in_states(at)}"
            groups = tuple(sorted((name,) for name in (*names, two_name)))
            yield Finding("live", False, said, groups, at)


def _volts(point: Point) -> tuple[float, float]:
    return (point.volts or 0.0), (point.rises_to or 0.0)


def _put_on(
    both: Comparison, states: States, one: Point, two: Point, kinds: Sequence[str]
) -> tuple[State, ...]:
    """States in which one point comes onto another."""
    barred, seats, here = both.barred, both.down.seat, both.flows[0]
    pair = seats[one.name], seats[two.name]
    links = barred.tree_with_bars.between(pair)
    if "linked" not in kinds:
        links = [link for link in links if link.control]
    was = here.points[one.name], here.points[two.name]
    kept = here.graph.tree.between(was)
    names = controls_of(links) | controls_of(kept)
    if prod(len(states.controls[name].positions) for name in names) > MOST_STATES:
        return ()
    frame = states.frame(names)
    now = connected(bonds_at_rest(links, frame), *pair, states.possible(frame))
    now &= ~connected(bonds_at_rest(kept, frame), *was, frame.full)
    return tuple(State(tuple(state.items())) for state in frame.states(now))
