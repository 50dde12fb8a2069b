"""Evidence: the path as it was, and as it is now."""

from __future__ import annotations

from collections.abc import Callable, Collection, Container, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from functools import cached_property
from itertools import islice
from math import isinf, prod
from typing import TYPE_CHECKING

from rewire.circuit.circuit import Circuit, ContactGraph, Joint
from rewire.circuit.connectivity import bonds_at_rest, connected, controls_of
from rewire.circuit.ohms import ohms_between, part_ohms
from rewire.circuit.states import Frame, States, widen
from rewire.circuit.tracing import Closed, Trace, Web
from rewire.compare.findings import (
    AlsoConnected,
    FindingKind,
    Groups,
    State,
    as_written,
    group_name,
)
from rewire.records.part import Part
from rewire.records.spec import Rule, Spec
from rewire.records.switches import Switch
from rewire.words.wording import listing

if TYPE_CHECKING:
    from rewire.compare.comparison import Direction

MOST_STATES = 4096
"""Product of the positions of the controls that are looked at together for one net."""
MOST_NEAR = 64
"""Nets looked at for one finding: the nearest, by contacts in between."""
Finder = Callable[[Iterable[str], Collection[str], Closed, Collection[str]], Trace | None]


@dataclass(frozen=True)
class Tracer:
    """Follows paths through one wiring."""

    circuit: Circuit
    seat: Mapping[str, str]
    """Anchor → its terminal in this wiring."""
    nets_to_keep: Sequence[Sequence[str]] = ()
    """The original's nets, by anchors: joined besides where a wiring is made whole."""

    @property
    def spec(self) -> Spec:
        """The spec the wiring is of."""
        return self.circuit.spec

    @property
    def parts(self) -> Mapping[str, Part]:
        """Everything in the wiring."""
        return self.circuit.parts

    @cached_property
    def switches(self) -> Mapping[str, Switch]:
        """The switches by name."""
        return {switch.name: switch for switch in self.circuit.switches}

    @cached_property
    def web(self) -> Web:
        """The wiring as it is."""
        return Web(self.circuit.joints)

    @cached_property
    def whole(self) -> Web:
        """The wiring made whole by the original's nets."""
        nets = (tuple(self.seat[anchor] for anchor in net) for net in self.nets_to_keep)
        return Web((*self.web.joints, *map(Joint, nets)))

    def path(self, groups: Groups, closed: Closed) -> Trace | None:
        """A shortest path from the first group to the second, over wires and contacts."""
        return self._follow(self.web.shortest, groups, closed, ())

    def flow(self, groups: Groups, closed: Closed) -> Trace | None:
        """A shortest path for current, through parts as well."""
        return self._follow(self.web.shortest, groups, closed, self.parts)

    def over_parts(self, groups: Groups, closed: Closed, added: Sequence[str]) -> Trace | None:
        """A path through as few parts as can be, added ones if they will do."""
        find = self.web.fewest_parts
        found = self._follow(find, groups, closed, added)
        return found or self._follow(find, groups, closed, self.parts)

    def _follow(
        self, find: Finder, groups: Groups, closed: Closed, parts: Collection[str]
    ) -> Trace | None:
        start, ends = ({self.seat[anchor] for anchor in group} for group in groups[:2])
        return find(start, ends, closed, parts)

    def through(self, groups: Groups, closed: Closed, added: Sequence[str]) -> tuple[str, ...]:
        """Added parts on the shortest paths from the first group to each other one."""
        find = self._web_of(groups).fewest_parts
        traces = (self._follow(find, (groups[0], other), closed, added) for other in groups[1:])
        on_them = dict.fromkeys(name for trace in traces for name in parts_on(trace))
        return tuple(name for name in on_them if name in added)

    def _web_of(self, groups: Groups) -> Web:
        """As it is, for what was one net of the original; else with all of its nets."""
        one_net = any(set(groups[0] + groups[1]) <= set(net) for net in self.nets_to_keep)
        return self.web if one_net else self.whole

    def linking(
        self, kind: FindingKind, groups: Groups, closed: Closed, added: Collection[str]
    ) -> frozenset[str]:
        """Added parts on any path between the groups."""
        web = self.web if kind == "linked" else self._web_of(groups)
        seats = [[self.seat[anchor] for anchor in group] for group in groups]
        return web.linking(seats, closed, added)

    def passed(self, closed: Closed) -> frozenset[str]:
        """Throws that wipers pass over in a move, given what is closed before or after it."""
        return frozenset(
            lug
            for joint in self.web.joints
            if joint.control and any(m & closed.get(joint.control, 0) == m for m in joint.passed)
            for lug in joint.members[1:]
        )

    def parts_between(self, groups: Groups) -> tuple[str, ...]:
        """Parts on a path for current from the first group to the second; none if there is none.

        Looked for with all contacts open, then with one control in each of its positions.
        """
        controls = self.spec.controls.items()
        stands = [{name: 1 << at} for name, c in controls for at in range(len(c.positions))]
        for closed in ({}, *stands):
            trace = self._follow(self.web.fewest_parts, groups, closed, self.parts)
            names = [name for name in parts_on(trace) if name not in self.switches]
            if names:
                return tuple(names)
        return ()


@dataclass(frozen=True, slots=True)
class Ending:
    """Where one side of a lost path ends now."""

    said: str
    reached: int
    """How many places it still reaches."""
    lugs: tuple[str, ...]


def endings(tracer: Tracer, groups: Groups, closed: Closed) -> list[Ending]:
    """Where each side of a lost path ends now."""
    named = ((group_name(group, tracer.spec.points), group) for group in groups)
    return [_ending(tracer, name, [tracer.seat[a] for a in group], closed) for name, group in named]


def _ending(tracer: Tracer, name: str, seats: Sequence[str], closed: Closed) -> Ending:
    """Lugs of switches that some terminals reach, or else what else they are connected to."""
    reached = tracer.web.reached(seats, closed)
    lugs = tuple(sorted(t for t in reached if t.partition(".")[0] in tracer.switches))
    if lugs:
        return Ending(f"{name} stops at {listing(lugs)}", len(reached), lugs)
    beside = sorted(reached - {tracer.seat.get(anchor, anchor) for anchor in name.split("/")})
    if beside:
        return Ending(f"{name} is connected to {listing(beside)} alone", len(reached), ())
    return Ending(f"nothing is connected to {name}", 0, ())


def poles_gone(was: Sequence[str], here: Tracer, there: Tracer) -> str | None:
    """Poles and lugs on the old path that the other wiring no longer has."""
    gone: dict[str, None] = {}
    for name, _, lug in (terminal.partition(".") for terminal in was):
        switch = here.switches.get(name)
        if switch is not None and not _has_pole(switch, lug, _heirs(name, here, there)):
            gone[_pole_words(switch, lug)] = None
    return f"{there.circuit.wiring.name} has no {listing(list(gone), 'or')}" if gone else None


def _heirs(name: str, here: Tracer, there: Tracer) -> list[Switch]:
    """The switch itself; if it is gone, whichever switches are new."""
    if name in there.parts:
        return [there.switches[name]] if name in there.switches else []
    return [switch for new, switch in there.switches.items() if new not in here.parts]


def _has_pole(switch: Switch, lug: str, heirs: Sequence[Switch]) -> bool:
    """Whether some switches have the lug, or as many poles; of a table the lug is needed."""
    if any(lug in heir.terminals for heir in heirs):
        return True
    numbers = (number for number, pole in enumerate(switch.poles, 1) if lug in pole)
    needed = next(numbers, len(switch.terminals))
    return sum(len(h.poles) for h in heirs if h.control == switch.control) >= needed


def _pole_words(switch: Switch, lug: str) -> str:
    for section in switch.sections:
        if lug in section.lugs and section.pole is not None:
            return f"pole {section.pole} of {switch.name}"
    return f"lug {switch.name}.{lug}"


def rule_in_words(rule: Rule) -> str:
    """What a rule asks for: ``A and B must be connected within 120 ohm``."""
    places = " and ".join(rule.places)
    if rule.kind == "connect":
        within = "" if rule.limit is None else f" within {as_written(rule.limit)}"
        return f"{places} must be connected{within}"
    if rule.limit is None:
        return f"{places} must not be connected"
    return f"{places} must be isolated by {as_written(rule.limit)} or more"


def link_in_words(tracer: Tracer, rule: Rule, closed: Closed) -> str:
    """What there is between the two places of a rule in this wiring."""
    start, end = (tracer.seat.get(place, place) for place in rule.places)
    gone = [place for place in (start, end) if place not in tracer.circuit.nets.of]
    if gone:
        return f"{tracer.circuit.wiring.name} has no {listing(gone, 'or')}"
    trace = tracer.web.shortest([start], {end}, closed, tracer.parts)
    if trace is None:
        return "; ".join(_ending(tracer, place, [place], closed).said for place in (start, end))
    unknown = _unknown_on(tracer, trace)
    if not unknown:
        return trace.in_words()
    one = len(unknown) == 1
    values = f"the {'value' if one else 'values'} of {listing(unknown)} {'is' if one else 'are'}"
    why = "and cannot be counted on"
    if rule.kind == "isolate":
        why = f"and {'counts' if one else 'count'} as none"
    return f"{trace.in_words()}; {values} not known {why}"


def figure_in_words(tracer: Tracer, rule: Rule, closed: Closed) -> str:
    """Ohms between a rule's places with the controls so, over all paths, beside its limit.

    Empty where the rule has no limit, where there is no path, or a value on it is not known.
    """
    start, end = (tracer.seat.get(place, place) for place in rule.places)
    nets = tracer.circuit.nets
    if rule.limit is None or not {start, end} <= nets.of.keys():
        return ""
    trace = tracer.web.shortest([start], {end}, closed, tracer.parts)
    if trace is None or _unknown_on(tracer, trace):
        return ""
    links = list(part_ohms(tracer.circuit, most=rule.kind == "connect"))
    for joint in tracer.web.joints:
        if joint.control and joint.positions & closed.get(joint.control, 0):
            first, *rest = (nets.of[member] for member in joint.members)
            links += [(first, place, 0.0) for place in rest]
    ohms = ohms_between(len(nets.members), links, nets.of[start], nets.of[end])
    if isinf(ohms):
        return ""
    told = (float(f"{ohms:.{digits}g}") for digits in range(3, 17))
    shown = next((value for value in told if value != rule.limit), ohms)
    than = "more" if rule.kind == "connect" else "less"
    return f": {as_written(shown)}, {than} than {as_written(rule.limit)}"


def parts_on(trace: Trace | None) -> Iterable[str]:
    """Parts that a path goes through, not those beside it: both terminals next to each other."""
    if trace is None:
        return ()
    names = [terminal.partition(".")[0] for terminal in trace.terminals]
    pairs = zip(names, names[1:], trace.by, strict=False)
    return dict.fromkeys(one for one, other, by in pairs if one == other and by is None)


def _unknown_on(tracer: Tracer, trace: Trace) -> list[str]:
    """Parts on a path whose resistance is left to be found or not stated."""
    parts = tracer.parts
    return [n for n in parts_on(trace) if any(leg.ohms is None for leg in parts[n].legs)]


def also_connected(
    way: Direction, states: States, groups: Groups, held: tuple[Frame, int], points: Container[str]
) -> Iterator[AlsoConnected]:
    """What else is connected with the groups of a finding in some of its states, by name.

    A finding names two nets that are connected directly. What further contacts connect with them
    belongs to it, and its own states do not say in which positions: two leads joined in every
    position are joined with the chassis only in the one in which one of them is switched to it.
    """
    own = {anchor for group in groups for anchor in group}
    start = next(net for net, anchors in way.anchors.items() if groups[0][0] in anchors)
    near = (n for n in _outward(way.first, start) if own.isdisjoint(way.anchors.get(n, own)))
    named = {net: group_name(way.anchors[net], points) for net in islice(near, MOST_NEAR)}
    for net in sorted(named, key=named.__getitem__):
        at = _connected_in(way.first, states, (start, net), held)
        if at is None or at:
            yield AlsoConnected(named[net], at if at != (State(()),) else ())


def _outward(graph: ContactGraph, start: int) -> Iterator[int]:
    """Nets that contacts can connect to one, the controls anyhow; the nearest first."""
    found = {start: None}
    waiting = [start]
    for place in waiting:
        yield place
        fresh = {p: None for k in graph.links_at.get(place, ()) for p in k.places if p not in found}
        found |= fresh
        waiting += fresh


def _connected_in(
    graph: ContactGraph, states: States, pair: tuple[int, int], held: tuple[Frame, int]
) -> tuple[State, ...] | None:
    """In which of the states two nets are connected; ``State(())`` alone: in all; None: too many.

    Controls that have nothing to do with those of the finding do not narrow its states.
    """
    links = graph.tree.between(pair)
    names = controls_of(links)
    frame, mask = held
    bound = not frame.names.isdisjoint(states.linked(names))
    names |= frame.names if bound else set()
    if prod(len(states.controls[name].positions) for name in names) > MOST_STATES:
        return None
    wide = states.frame(names)
    asked = states.possible(wide) & (widen(frame, mask, wide) if bound else wide.full)
    found = connected(bonds_at_rest(links, wide), *pair, asked)
    if found == asked != 0:
        return (State(()),)
    return tuple(State(tuple(state.items())) for state in wide.states(found))
