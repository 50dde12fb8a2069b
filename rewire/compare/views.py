"""Views: the graphs a comparison looks at, on places that both wirings share.

A *place* is a net, or several nets merged. Four views answer for ties: each
wiring as it is, and each *made whole* by the other's nets, in which the
anchors of every net of the other wiring count as one place. Two more answer
for paths, with everything that is always linked merged.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator, Mapping, MutableMapping, Sequence
from dataclasses import dataclass
from itertools import combinations

from rewire.circuit.circuit import ContactGraph, Nets, circuit_of
from rewire.circuit.graph import ALWAYS, NO_SECTION, Joiner, Link
from rewire.compare.roles import Roles
from rewire.records.spec import Part, Spec, Wiring


def bars_of(parts: Iterable[Part], nets: Nets) -> Iterator[Link]:
    """Parts that pass DC as links between the nets of their terminals."""
    for part in parts:
        if not part.passes_dc:
            continue
        places = tuple(dict.fromkeys(nets.of[part.terminal(lug)] for lug in part.terminals))
        if len(places) > 1:
            yield Link(NO_SECTION, (part.name,), places, ALWAYS)


@dataclass(frozen=True)
class Sight:
    """One wiring (``first``) seen against the other (``second``).

    ``first`` is the wiring whose ties are asked for, ``second`` the one in
    which they may be lost, ``whole`` the second made whole by the first's nets.
    """

    first: ContactGraph
    second: ContactGraph
    whole: ContactGraph
    anchors: Mapping[int, tuple[str, ...]]
    """Per anchored net of the first its anchors, by their names in the original."""
    seat: MutableMapping[str, int]
    """Per anchor its place in the second."""
    merged: Sequence[int]
    """Per net of the first its place in ``whole``."""

    def key_in_first(self, place: int) -> object:
        """What a place of the first is known by in both wirings."""
        if place in self.anchors:
            return "net", self.merged[place]
        return self.first.lugs_at[place]


@dataclass(frozen=True)
class Views:
    """All a comparison of two wirings looks at, for one set of roles."""

    spec: Spec
    roles: Roles
    nets: tuple[Nets, Nets]
    """The original's, the other's."""
    down: Sight
    """What the original ties and the other may not: dropped, inserted, gap."""
    up: Sight
    """What the other ties and the original may not: joined, bridge."""
    added_on: tuple[int, ...]
    """Nets of the other wiring that added parts which pass DC have a terminal on."""


def views_of(spec: Spec, other: Wiring, roles: Roles, known: Views | None = None) -> Views:
    """Build the views; ``known`` lends nets and plain views of the same two wirings."""
    original = spec.original
    nets = known.nets if known else (circuit_of(spec, original).nets, circuit_of(spec, other).nets)
    seat_there = {anchor: nets[1].of[terminal] for anchor, terminal in roles.seat.items()}
    seat_here = {anchor: nets[0].of[anchor] for anchor in roles.seat}
    places_here, places_there = _merge(nets, seat_here, seat_there)
    added = [other.parts[name] for name in roles.added]
    here = known.down.first if known else ContactGraph(circuit_of(spec, original).contacts)
    there = known.up.first if known else ContactGraph(circuit_of(spec, other).contacts)
    barred = ContactGraph(there.contacts, tuple(bars_of(added, nets[1])))
    return Views(
        spec=spec,
        roles=roles,
        nets=nets,
        down=Sight(
            first=here,
            second=barred if barred.bars else there,
            whole=barred.moved_to(places_there),
            anchors=_anchors(seat_here),
            seat=seat_there,
            merged=places_here,
        ),
        up=Sight(
            first=there,
            second=here,
            whole=here.moved_to(places_here),
            anchors=_anchors(seat_there),
            seat=seat_here,
            merged=places_there,
        ),
        added_on=tuple(
            sorted(
                {nets[1].of[p.terminal(lug)] for p in added if p.passes_dc for lug in p.terminals}
            )
        ),
    )


def _merge(
    nets: tuple[Nets, Nets], here: Mapping[str, int], there: Mapping[str, int]
) -> tuple[list[int], list[int]]:
    """Per net of either wiring its place when nets that share an anchor are one."""
    count = len(nets[0].members)
    joiner = Joiner(count + len(nets[1].members))
    for anchor, net in here.items():
        joiner.join((net, count + there[anchor]))
    numbers = joiner.numbered()
    return numbers[:count], numbers[count:]


def _anchors(seat: Mapping[str, int]) -> dict[int, tuple[str, ...]]:
    found: dict[int, list[str]] = {}
    for anchor in sorted(seat):
        found.setdefault(seat[anchor], []).append(anchor)
    return {net: tuple(names) for net, names in found.items()}


def whole_keys(sight: Sight) -> Callable[[int], object]:
    """What a place of ``sight.whole`` is known by in both wirings."""
    anchored = {sight.merged[net] for net in sight.anchors}

    def key_of(place: int) -> object:
        return ("net", place) if place in anchored else sight.whole.lugs_at[place]

    return key_of


def pairs_of(places: Iterable[int]) -> Iterator[tuple[int, int]]:
    """Each two of some places once, the lower first."""
    yield from combinations(sorted(set(places)), 2)
