"""One move between two ends, in both wirings: what lets go, and what meets, for a moment.

Two questions are put to two kinds of graph. Between nets, contacts alone count: a *gap* is a
connection that the original holds through a move and the other wiring lets go of; a *bridge* is
one that the other wiring makes for a moment and the original never. Between points, parts count
too: a path for current is then *interrupted*, or *stray*.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass, replace
from functools import cached_property

from rewire.circuit.circuit import Contact, ContactGraph
from rewire.circuit.connectivity import QUESTIONS, Moving, controls_of, in_step, moving
from rewire.circuit.graph import CandidatePairs, Link, PairsIn, Places
from rewire.circuit.states import Frame, widen
from rewire.compare.findings import FindingKind, FoundIn, Move
from rewire.records.spec import Spec, Wiring
from rewire.records.switches import Switch


@dataclass(frozen=True, slots=True)
class Assumption:
    """One reading of the timings that are not known, to the disadvantage of the other wiring.

    A switch that is the same in both wirings (``alike``) is taken alike in both. Any other is
    read against the other wiring: where a break would be found, the original as shorting and the
    other as non-shorting; where a bridge would, the reverse.
    """

    alike: frozenset[str]
    alike_shorting: bool

    def shorting(self, contact: Contact, unknown: bool) -> bool:
        """Whether a contact is taken as shorting; ``unknown`` says how an unknown one is taken."""
        timing = contact.section.timing
        if timing != "unknown":
            return timing == "shorting"
        return self.alike_shorting if contact.switch in self.alike else unknown

    def likeness(self, contact: Contact, first: bool) -> object:
        """What two contacts must have in common to be timed alike whatever is asked."""
        timing = contact.section.timing
        return timing if timing != "unknown" or contact.switch in self.alike else (timing, first)


def assumptions(spec: Spec, other: Wiring) -> Iterator[Assumption]:
    """The readings of unknown timings to try; what any of them finds counts."""
    here, there = spec.all_of(Switch, spec.original), spec.all_of(Switch, other)
    common = here.keys() & there.keys()
    alike = frozenset(n for n in common if _character(here[n]) == _character(there[n]))
    yield Assumption(alike, alike_shorting=True)
    if any(s.timing == "unknown" for name in alike for s in there[name].sections):
        yield Assumption(alike, alike_shorting=False)


def _character(switch: Switch) -> object:
    """All of a switch that its contacts and its timing depend on."""
    sections = frozenset(
        (frozenset(s.lugs), tuple(frozenset(map(frozenset, at)) for at in s.groups), s.timing)
        for s in switch.sections
    )
    return switch.control, frozenset(switch.terminals), sections


@dataclass(frozen=True)
class Span:
    """Two places of one wiring between which something is asked."""

    graph: ContactGraph
    ends: tuple[int, int]
    besides: Sequence[tuple[Places, FoundIn]] = ()
    """Places that count as connected besides, and the states of the others in which they do."""

    @cached_property
    def links(self) -> list[Link]:
        """Links on any path between the ends, over what counts as connected too."""
        return self.graph.tree.between((*self.ends, *(p for one in self.besides for p in one[0])))

    @property
    def controls(self) -> set[str]:
        """Controls that can matter."""
        names = controls_of(self.links, self.graph.contacts)
        return names.union(c.name for _, found in self.besides for c in found.frame.controls)


Asked = Iterator[tuple[bool, int]]
"""By each of two questions (whether all sections move in step) the states of the others in which
it is so; none where it never is."""


@dataclass(frozen=True)
class Passage:
    """Two ends and everything between them while one control moves, in both wirings."""

    spans: tuple[Span, Span]
    """In the original, in the other wiring."""
    frame: Frame
    move: Move
    kinds: Kinds
    assumed: Assumption

    def found(self, asked: int) -> Iterator[FoundIn]:
        """When it happens, out of some states of the others."""
        for stepped, mask in self.kinds.answer(self, asked):
            yield FoundIn(self.frame, mask, stepped)

    @cached_property
    def here(self) -> Moving:
        """The original in the move."""
        return self._moving(self.spans[0], True)

    @cached_property
    def there(self) -> Moving:
        """The other wiring in the move."""
        return self._moving(self.spans[1], False)

    def _moving(self, span: Span, original: bool) -> Moving:
        contacts = span.graph.contacts

        def shorting(number: int) -> bool:
            return self.assumed.shorting(contacts[number], original == self.kinds.original_shorts)

        return moving(span.links, contacts, self.frame, self.move, shorting)

    def _mended(self, scene: Moving, span: Span) -> Moving:
        """With what counts as connected besides."""
        bonds = ((places, widen(at.frame, at.mask, self.frame)) for places, at in span.besides)
        return replace(scene, still=(*scene.still, *bonds))

    def let_go(self, asked: int) -> Asked:
        """States in which the original holds the ends through the move and the other lets go."""
        here, there = (span.ends for span in self.spans)
        mask = asked & self.there.before(*there)
        mask = mask and mask & self.there.after(*there)
        mask = mask and mask & self.here.before(*here) & self.here.after(*here)
        mended = self._mended(self.there, self.spans[1])
        for question in QUESTIONS:
            mask = mask and mask & ~question(mended).always(*there)
            held = mask and mask & question(self.here).always(*here)
            if held:
                yield question is in_step, held

    def meet(self, asked: int) -> Asked:
        """States in which the ends meet for a moment in the other wiring, never in the original."""
        here, there = (span.ends for span in self.spans)
        mask = asked & ~self.there.before(*there)
        mask = mask and mask & ~self.there.after(*there)
        mask = mask and mask & ~self.here.before(*here) & ~self.here.after(*here)
        for question in QUESTIONS:
            mask = mask and mask & question(self.there).ever(*there)
            met = mask and mask & ~question(self._mended(self.here, self.spans[0])).ever(*here)
            if met:
                yield question is in_step, met


@dataclass(frozen=True, slots=True)
class Kinds:
    """One of the two questions, with the kinds of finding that it leads to."""

    of_nets: FindingKind
    of_points: FindingKind
    pairs_in: PairsIn
    original_shorts: bool
    """How the original is taken where a timing is unknown; the other wiring goes the other way."""
    answer: Callable[[Passage, int], Asked]


BREAKS = Kinds("gap", "interrupted", CandidatePairs.held, True, Passage.let_go)
MEETINGS = Kinds("bridge", "stray", CandidatePairs.met, False, Passage.meet)
