"""The wiring as a question in clauses: where every lug may be, what must be connected or apart.

Every lug of the new switch is on the net of one stub, on a *private* net (lugs
that are only jumpered with each other, known by the first of them), or spare.
Two stubs that are connected in every state may share a net: the later is *absorbed*.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field, replace
from itertools import combinations, pairwise
from typing import TYPE_CHECKING

from rewire.fit.clauses import Clauses, Literal
from rewire.records.part import Section, Timing

if TYPE_CHECKING:
    from rewire.fit.offers import Offer
    from rewire.fit.task import Demand, Labels

Detents = tuple[int, ...]
"""Per position of the control the detent that serves it, counted from 0."""
Guards = tuple[Literal, ...]
"""Opposites of what a clause is asked under: any of them holding lets it go."""


@dataclass(frozen=True, slots=True)
class Landing:
    """How the pieces of the old nets land on a new switch.

    ``nets`` are the nets of the new switch that carry a lug, each a set of stubs (by
    number; none for lugs that are only jumpered with each other) and its lugs in order.
    """

    nets: tuple[tuple[tuple[int, ...], tuple[str, ...]], ...]
    detents: Detents
    timings: tuple[Timing, ...]
    """Per section of the offer."""

    @property
    def connections(self) -> int:
        """Stubs that land."""
        return sum(len(stubs) for stubs, _ in self.nets)

    @property
    def jumpers(self) -> int:
        """Jumpers between lugs."""
        return sum(len(lugs) - 1 for _, lugs in self.nets)

    @property
    def cost(self) -> tuple[int, int]:
        """Connections and jumpers."""
        return self.connections, self.jumpers

    def spare(self, lugs: Sequence[str]) -> tuple[str, ...]:
        """Lugs that carry nothing."""
        used = {lug for _, of_net in self.nets for lug in of_net}
        return tuple(lug for lug in lugs if lug not in used)


def mapped(section: Section, detents: Detents) -> Section:
    """A section as it answers to the positions of the control."""
    groups = tuple(section.groups[detent] for detent in detents)
    used = {lug for at in groups for group in at for lug in group}
    return replace(section, groups=groups, lugs=tuple(g for g in section.lugs if g in used))


@dataclass(frozen=True, slots=True)
class Closed:
    """A group of lugs (by number) that contacts close, if every literal of ``only_if`` holds."""

    lugs: tuple[int, ...]
    only_if: tuple[Literal, ...] = ()


@dataclass(slots=True)
class Encoding:
    """Variables of one question: an offer, and so many stubs."""

    offer: Offer
    stubs: int
    detents: Sequence[Detents]
    clauses: Clauses
    number: Mapping[str, int] = field(init=False)
    """Per lug its number."""
    at: list[dict[int, Literal]] = field(init=False)
    """Per lug and net: the lug is on it. A stub's net has its number, the private net that begins
    at lug n is number -1 - n."""
    used: list[Literal] = field(init=False)
    """Per lug: something is on it."""
    lands: list[Literal] = field(init=False)
    """Per stub: it goes somewhere."""
    absorbed: dict[tuple[int, int], Literal] = field(init=False, default_factory=dict)
    """Per pair of stubs that are always connected: the second goes with the first."""
    served_by: list[Literal] = field(init=False)
    """Per choice of detents: it is the one."""
    shorting: list[Literal] = field(init=False)
    """Per section: it makes before it breaks."""

    def __post_init__(self) -> None:
        clauses, new = self.clauses, self.clauses.new
        self.number = {lug: number for number, lug in enumerate(self.lugs)}
        idle = {self.number[lug] for lug in self.offer.switch.idle_lugs}
        self.at = []
        for lug in range(len(self.lugs)):
            firsts = (first for first in range(lug + 1) if not idle & {first, lug})
            nets = (*range(self.stubs), *(-1 - first for first in firsts))
            self.at.append({net: new() for net in nets})
        self.shorting = [new() for _ in self.offer.switch.sections]
        self.served_by = [new() for _ in self.detents]
        clauses.add(clauses.at_most_one(self.served_by))
        self.used = [clauses.at_most_one([*nets.values()]) for nets in self.at]
        self._private_nets()
        stubs = range(self.stubs)
        self.lands = [clauses.is_any([nets[stub] for nets in self.at]) for stub in stubs]
        self._alike_poles()

    @property
    def lugs(self) -> tuple[str, ...]:
        """Lugs of the new switch, in the order of their numbers."""
        return self.offer.switch.terminals

    def _private_nets(self) -> None:
        """A private net begins at its first lug and has at least one more."""
        for first in range(len(self.lugs)):
            later = [nets[-1 - first] for nets in self.at[first + 1 :] if -1 - first in nets]
            begins = self.at[first].get(-1 - first)
            if begins is not None:
                self.clauses.implies(begins, *later)
                for literal in later:
                    self.clauses.implies(literal, begins)

    def _alike_poles(self) -> None:
        """Poles of a plain form can change places: their commons are put in the order of stubs."""
        sections = self.offer.switch.sections
        if not self.offer.plain or len({(s.timing, s.timing_stated) for s in sections}) != 1:
            return
        commons = [self.number[pole[0]] for pole in self.offer.switch.poles]
        for one, other in pairwise(commons):
            self.clauses.implies(self.used[other], self.used[one])
            before: list[Literal] = []
            for stub in range(self.stubs):
                before = [self.clauses.is_any([*before, self.at[one][stub]])]
                self.clauses.implies(self.at[other][stub], *before)

    def allow_absorbing(self, demands: Iterable[Demand | None]) -> None:
        """Stubs that may be connected at every position may land on one net."""
        labels = [demand.may for demand in demands if demand is not None]
        keys = [tuple(one[stub] for one in labels) for stub in range(self.stubs)]
        for one, other in combinations(range(self.stubs), 2):
            if keys[one] == keys[other]:
                literal = self.absorbed[one, other] = self.clauses.new()
                self.clauses.implies(literal, self.lands[one])
                self.clauses.implies(literal, -self.lands[other])
        for stub in range(self.stubs):
            self.clauses.at_most_one([v for (_, o), v in self.absorbed.items() if o == stub])

    def landing_somewhere(self) -> list[Literal]:
        """One literal for each connection."""
        return [*self.lands, *self.absorbed.values()]

    def jumpers(self) -> list[Literal]:
        """One literal for each lug beyond the first of its net."""
        found, before = [], dict[int, Literal]()
        for lug, nets in enumerate(self.at):
            beyond = [literal for net, literal in nets.items() if net < 0 and net != -1 - lug]
            for stub, here in ((net, literal) for net, literal in nets.items() if net >= 0):
                if stub in before:
                    beyond.append(both := self.clauses.new())
                    self.clauses.add(both, -before[stub], -here)
                before[stub] = self.clauses.is_any(
                    [before[stub], here] if stub in before else [here]
                )
            found += [self.clauses.is_any(beyond)] if beyond else []
        return found

    def at_detent(self, position: int) -> Iterator[Closed]:
        """Contacts closed at a position, for every choice of detents."""
        for detents, literal in zip(self.detents, self.served_by, strict=True):
            only_if = (literal,) if len(self.detents) > 1 else ()
            for section in self.offer.switch.sections:
                for group in section.groups[detents[position]]:
                    yield Closed(tuple(self.number[lug] for lug in group), only_if)

    def read(self, model: Sequence[Literal]) -> Landing:
        """The wiring that a solution of the clauses describes."""
        true = {literal for literal in model if literal > 0}
        along = [pair for pair, literal in self.absorbed.items() if literal in true]
        nets = []
        for net in (*range(self.stubs), *(-1 - first for first in range(len(self.lugs)))):
            lugs = (lug for lug, at in zip(self.lugs, self.at, strict=True) if at.get(net) in true)
            stubs = (net, *(other for one, other in along if one == net)) if net >= 0 else ()
            nets.append((stubs, tuple(lugs)))
        served = zip(self.detents, self.served_by, strict=True)
        sections = zip(self.offer.switch.sections, self.shorting, strict=True)
        return Landing(
            tuple((stubs, lugs) for stubs, lugs in nets if lugs),
            next(detents for detents, literal in served if literal in true),
            tuple(
                "unknown" if s.timing == "unknown" else "shorting" if v in true else "non-shorting"
                for s, v in sections
            ),
        )

    def literals_of(self, landing: Landing) -> list[Literal]:
        """What holds in a wiring: the net of every lug, what is absorbed, the detents."""
        found = [self.served_by[self.detents.index(landing.detents)]]
        net_of = {
            lug: stubs[0] if stubs else -1 - self.number[lugs[0]]
            for stubs, lugs in landing.nets
            for lug in lugs
        }
        for number, lug in enumerate(self.lugs):
            net = net_of.get(lug)
            found.append(-self.used[number] if net is None else self.at[number][net])
        along = {(stubs[0], other) for stubs, _ in landing.nets for other in stubs[1:]}
        return [*found, *(v if pair in along else -v for pair, v in self.absorbed.items())]


def keep_apart(encoding: Encoding, closed: Sequence[Closed], labels: Labels) -> None:
    """No contacts connect stubs with different labels: these are the colours, bit by bit."""
    true = encoding.clauses.new()
    encoding.clauses.add(true)
    for bit in range(max(labels, default=0).bit_length()):
        _colour(encoding, closed, [true if label >> bit & 1 else -true for label in labels])


def keep_two_apart(
    encoding: Encoding,
    closed: Sequence[Closed],
    outside: Labels,
    sides: Sequence[set[int]],
    unless: Guards,
) -> None:
    """The stubs of two sides are not connected here, unless a literal of ``unless`` holds.

    ``outside`` has per stub its group, connected from outside the switch.
    """
    clauses = encoding.clauses
    blobs = {label: clauses.new() for label in sorted(set(outside))}
    _colour(encoding, closed, [blobs[label] for label in outside], unless)
    for (a, b), literal in encoding.absorbed.items():
        clauses.same(blobs[outside[a]], blobs[outside[b]], (*unless, -literal))
    for stub in sides[0]:
        clauses.add(*unless, blobs[outside[stub]])
    for stub in sides[1]:
        clauses.add(*unless, -blobs[outside[stub]])


def _colour(
    encoding: Encoding, closed: Sequence[Closed], stubs: Sequence[Literal], unless: Guards = ()
) -> None:
    """Every lug and net in play has a colour, which closed contacts carry on; the stubs theirs."""
    clauses, of_net = encoding.clauses, dict(enumerate(stubs))
    of_lug = {lug: clauses.new() for lug in sorted({lug for one in closed for lug in one.lugs})}
    for one in closed:
        free = (*unless, *(-literal for literal in one.only_if))
        for a, b in pairwise(one.lugs):
            clauses.same(of_lug[a], of_lug[b], free)
    for lug, colour in of_lug.items():
        for net, literal in encoding.at[lug].items():
            if net not in of_net:
                of_net[net] = clauses.new()
            clauses.same(colour, of_net[net], (*unless, -literal))


Reached = dict[int, Literal | None]
"""Per blob, or private net, what holds only if it is reached; None: it is from the start."""


@dataclass(frozen=True, slots=True)
class Connecting:
    """Demand that stubs are connected: step by step from a root, one more contact at a time."""

    encoding: Encoding
    closed: Sequence[Closed]
    given: Labels
    """Per stub its blob: what is connected from outside."""
    steps: int
    """Contacts that a path may have at most."""

    def connect(
        self,
        goals: Sequence[Sequence[int]],
        unless: Guards = (),
        through: Sequence[int] = (),
        given_up: Mapping[int, Literal] | None = None,
    ) -> None:
        """All blobs of each goal are connected with each other.

        Args:
            goals: groups of blobs; different ones are never connected (``keep_apart`` sees to it).
            unless: literals, any of which lets the demand go.
            through: further blobs that a path may go through.
            given_up: per blob a literal that holds if it is given up.
        """
        wanted = [blob for goal in goals for blob in goal[1:]]
        at: Reached = dict.fromkeys((goal[0] for goal in goals), None) | dict(given_up or {})
        for _ in range(self.steps):
            at = self._one_contact_on(at, {*wanted, *through})
        for blob in wanted:
            literal = at.get(blob)
            self.encoding.clauses.add(*unless, *([] if literal is None else [literal]))

    def _one_contact_on(self, at: Reached, blobs: set[int]) -> Reached:
        """What is reached over one more contact, or by being on one net with what is reached."""
        clauses, causes = self.encoding.clauses, dict[int, list[Literal]]()
        for one in self.closed:
            ends = [end for lug in one.lugs for end in self._nets(lug)]
            here = [clauses.needs_both(at[blob], literal) for blob, literal in ends if blob in at]
            if not here:
                continue
            contact = clauses.new()
            clauses.implies(contact, *here)
            for needed in one.only_if:
                clauses.implies(contact, needed)
            for blob, literal in ends:
                if blob < 0 or blob in blobs:
                    causes.setdefault(blob, []).append(clauses.needs_both(contact, literal))
        for near, far, literal in self._shared():
            if near in blobs and far in at:
                causes.setdefault(near, []).append(clauses.needs_both(at[far], literal))
        later = {blob: its for blob, its in causes.items() if at.get(blob, 0) is not None}
        known = {blob: [before] for blob in later if (before := at.get(blob))}
        return at | {b: clauses.needs_any([*known.get(b, []), *its]) for b, its in later.items()}

    def _shared(self) -> Iterator[tuple[int, int, Literal]]:
        """Blobs that are on one net where a stub of the one goes with a stub of the other."""
        for pair, literal in self.encoding.absorbed.items():
            one, other = (self.given[stub] for stub in pair)
            yield from ((one, other, literal), (other, one, literal))

    def _nets(self, lug: int) -> Iterator[tuple[int, Literal]]:
        """The blobs and private nets that a lug may be on, each with its literal."""
        for net, literal in self.encoding.at[lug].items():
            yield (net if net < 0 else self.given[net]), literal


def steps_needed(encoding: Encoding, position: int, goals: Sequence[Sequence[int]]) -> int:
    """Contacts that a path between two blobs of a goal may have at most, at a position.

    Every other goal needs contacts of its own; where each group has two lugs, one
    contact connects two blobs and no more. Being on one net counts as a step.
    """
    sections = encoding.offer.switch.sections
    by_choice = [
        [group for section in sections for group in section.groups[detents[position]]]
        for detents in encoding.detents
    ]
    most = max(len(groups) for groups in by_choice)
    in_pairs = all(len(group) == 2 for groups in by_choice for group in groups)
    if not in_pairs or encoding.absorbed:
        return most + min(len(encoding.absorbed), encoding.stubs - 1)
    total = sum(len(goal) - 1 for goal in goals)
    longest = max((len(goal) - 1 for goal in goals), default=0)
    return most - total + longest if total <= most else 0
