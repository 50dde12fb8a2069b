"""The wiring as a question in clauses: where every lug may be, what must be connected or apart.

Every lug of the new switch is on the net of one stub, on a *private* net (lugs
that are only jumpered with each other, known by the first of them), or spare.
Two stubs that are connected in every state may share a net: the later is *absorbed*.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from itertools import combinations, pairwise

from rewire.fit.clauses import Clauses, Literal
from rewire.fit.offers import Detents, Landing, Offer
from rewire.fit.task import Demand, Labels

Guards = tuple[Literal, ...]
"""Opposites of what a clause is asked under: any of them holding lets it go."""


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
    stub_at: list[list[Literal]] = field(init=False)
    """Per lug and stub: the lug is on the stub's net."""
    private_at: list[dict[int, Literal]] = field(init=False)
    """Per lug and first lug: the lug is on the private net that begins there."""
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
        lugs, new = self.lugs, self.clauses.new
        self.number = {lug: number for number, lug in enumerate(lugs)}
        idle = {self.number[lug] for lug in self.offer.switch.idle_lugs}
        self.stub_at = [[new() for _ in range(self.stubs)] for _ in lugs]
        self.private_at = [
            {} if lug in idle else {first: new() for first in range(lug + 1) if first not in idle}
            for lug in range(len(lugs))
        ]
        self.shorting = [new() for _ in self.offer.switch.sections]
        self.served_by = [new() for _ in self.detents]
        self.clauses.add(self.clauses.at_most_one(self.served_by))
        self.used = [
            self.clauses.at_most_one([*of_stubs, *privates.values()])
            for of_stubs, privates in zip(self.stub_at, self.private_at, strict=True)
        ]
        self._private_nets()
        self.lands = [
            self.clauses.is_any([of_lug[stub] for of_lug in self.stub_at])
            for stub in range(self.stubs)
        ]
        self._alike_poles()

    @property
    def lugs(self) -> tuple[str, ...]:
        """Lugs of the new switch, in the order of their numbers."""
        return self.offer.switch.terminals

    def _private_nets(self) -> None:
        """A private net begins at its first lug and has at least one more."""
        for lug, firsts in enumerate(self.private_at):
            for first, literal in firsts.items():
                if first != lug:
                    self.clauses.implies(literal, self.private_at[first][first])
            if lug in firsts:
                later = [f[lug] for f in self.private_at[lug + 1 :] if lug in f]
                self.clauses.implies(firsts[lug], *later)

    def _alike_poles(self) -> None:
        """Poles of a plain form can change places: their commons are put in the order of stubs."""
        sections = self.offer.switch.sections
        if not self.offer.plain or len({(s.timing, s.timing_stated) for s in sections}) != 1:
            return
        commons = [self.number[pole[0]] for pole in self.offer.switch.poles]
        for one, other in pairwise(commons):
            self.clauses.implies(self.used[other], self.used[one])
            before: Literal | None = None
            for mine, theirs in zip(self.stub_at[one], self.stub_at[other], strict=True):
                before = mine if before is None else self.clauses.is_any([before, mine])
                self.clauses.implies(theirs, before)

    def allow_absorbing(self, demands: Iterable[Demand | None]) -> None:
        """Stubs that may be connected at every position may land on one net."""
        labels = [demand.may for demand in demands if demand is not None]
        keys = [tuple(one[stub] for one in labels) for stub in range(self.stubs)]
        for one, other in combinations(range(self.stubs), 2):
            if keys[one] == keys[other]:
                self.absorbed[one, other] = self.clauses.new()
        for (one, other), literal in self.absorbed.items():
            self.clauses.implies(literal, self.lands[one])
            self.clauses.implies(literal, -self.lands[other])
        for stub in range(self.stubs):
            self.clauses.at_most_one([v for (_, o), v in self.absorbed.items() if o == stub])

    def landing_somewhere(self) -> list[Literal]:
        """One literal for each connection."""
        return [*self.lands, *self.absorbed.values()]

    def jumpers(self) -> list[Literal]:
        """One literal for each lug beyond the first of its net."""
        beyond = [
            [literal for first, literal in firsts.items() if first != lug]
            for lug, firsts in enumerate(self.private_at)
        ]
        for stub in range(self.stubs):
            before: Literal | None = None
            for lug, here in enumerate(of_lug[stub] for of_lug in self.stub_at):
                if before is not None:
                    beyond[lug].append(self.clauses.follows_from(before, here))
                before = here if before is None else self.clauses.is_any([before, here])
        return [self.clauses.is_any(literals) for literals in beyond if literals]

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
        nets = []
        for stub in range(self.stubs):
            lugs = tuple(
                g for g, at in zip(self.lugs, self.stub_at, strict=True) if at[stub] in true
            )
            along = [
                o for (s, o), literal in self.absorbed.items() if s == stub and literal in true
            ]
            nets.append(((stub, *along), lugs))
        for first in range(len(self.lugs)):
            privates = zip(self.lugs, self.private_at, strict=True)
            nets.append(((), tuple(g for g, at in privates if at.get(first) in true)))
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
        net_of = {lug: (stubs, lugs[0]) for stubs, lugs in landing.nets for lug in lugs}
        for number, lug in enumerate(self.lugs):
            stubs, first = net_of.get(lug, ((), None))
            if first is None:
                found.append(-self.used[number])
            elif stubs:
                found.append(self.stub_at[number][stubs[0]])
            else:
                found.append(self.private_at[number][self.number[first]])
        along = {(stubs[0], other) for stubs, _ in landing.nets for other in stubs[1:]}
        return [*found, *(v if pair in along else -v for pair, v in self.absorbed.items())]


def keep_apart(encoding: Encoding, closed: Sequence[Closed], labels: Labels) -> None:
    """No contacts connect stubs with different labels.

    Every lug and net gets a colour that closed contacts carry on; colours are the labels,
    bit by bit.
    """
    for bit in range(max(labels, default=0).bit_length()):
        for lug, colour in _colours(encoding, closed, ()).items():
            for stub, label in enumerate(labels):
                right = colour if label >> bit & 1 else -colour
                encoding.clauses.implies(encoding.stub_at[lug][stub], right)


def keep_two_apart(
    encoding: Encoding,
    closed: Sequence[Closed],
    outside: Labels,
    sides: Sequence[set[int]],
    unless: Guards,
) -> None:
    """Two points are not connected here.

    Args:
        encoding: the question.
        closed: what contacts close.
        outside: per stub its group, connected from outside the switch.
        sides: the stubs at the one place and those at the other.
        unless: literals, any of which lets the demand go.
    """
    clauses = encoding.clauses
    blobs = {label: clauses.new() for label in sorted(set(outside))}
    for lug, colour in _colours(encoding, closed, unless).items():
        for stub, label in enumerate(outside):
            clauses.same(colour, blobs[label], (*unless, -encoding.stub_at[lug][stub]))
    for (a, b), literal in encoding.absorbed.items():
        clauses.same(blobs[outside[a]], blobs[outside[b]], (*unless, -literal))
    for stub in sides[0]:
        clauses.add(*unless, blobs[outside[stub]])
    for stub in sides[1]:
        clauses.add(*unless, -blobs[outside[stub]])


def _colours(encoding: Encoding, closed: Sequence[Closed], unless: Guards) -> dict[int, Literal]:
    """A colour for every lug in play, carried by closed contacts and private nets."""
    clauses, private_at = encoding.clauses, encoding.private_at
    lugs = sorted({lug for one in closed for lug in one.lugs})
    of_lug = {lug: clauses.new() for lug in lugs}
    of_first = {f: clauses.new() for f in sorted({f for lug in lugs for f in private_at[lug]})}
    for one in closed:
        free = (*unless, *(-literal for literal in one.only_if))
        for a, b in pairwise(one.lugs):
            clauses.same(of_lug[a], of_lug[b], free)
    for lug in lugs:
        for first, literal in private_at[lug].items():
            clauses.same(of_lug[lug], of_first[first], (*unless, -literal))
    return of_lug


Reached = Mapping[int, Literal | None]
"""Per blob what holds only if it is reached; None where it is from the start."""


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
        of_first: dict[int, Literal] = {}
        for _ in range(max(self.steps, 0)):
            reached = self._contacts(at, of_first)
            of_first = self._next_firsts(reached, of_first)
            at = self._next_blobs(at, reached, [*wanted, *through])
        for blob in wanted:
            literal = at.get(blob)
            self.encoding.clauses.add(*unless, *([] if literal is None else [literal]))

    def _contacts(self, at: Reached, of_first: Mapping[int, Literal]) -> dict[int, Literal]:
        """Per closed group a variable that holds only if a lug of it is reached."""
        clauses = self.encoding.clauses
        found: dict[int, Literal] = {}
        for number, closed in enumerate(self.closed):
            causes = [c for lug in closed.lugs for c in self._reasons(lug, at, of_first)]
            if not causes:
                continue
            found[number] = clauses.new()
            clauses.implies(found[number], *causes)
            for literal in closed.only_if:
                clauses.implies(found[number], literal)
        return found

    def _reasons(self, lug: int, at: Reached, of_first: Mapping[int, Literal]) -> Iterator[Literal]:
        both = self.encoding.clauses.needs_both
        for stub, blob in enumerate(self.given):
            if blob in at:
                literal, here = at[blob], self.encoding.stub_at[lug][stub]
                yield here if literal is None else both(literal, here)
        for first, here in self.encoding.private_at[lug].items():
            if first in of_first:
                yield both(of_first[first], here)

    def _next_firsts(
        self, reached: Mapping[int, Literal], of_first: Mapping[int, Literal]
    ) -> dict[int, Literal]:
        clauses = self.encoding.clauses
        causes: dict[int, list[Literal]] = {f: [literal] for f, literal in of_first.items()}
        for number, literal in reached.items():
            for lug in self.closed[number].lugs:
                for first, here in self.encoding.private_at[lug].items():
                    causes.setdefault(first, []).append(clauses.needs_both(literal, here))
        return {first: clauses.needs_any(c) for first, c in causes.items()}

    def _next_blobs(
        self, at: Reached, reached: Mapping[int, Literal], blobs: Sequence[int]
    ) -> dict[int, Literal | None]:
        clauses, found = self.encoding.clauses, dict(at)
        for blob in blobs:
            before = at.get(blob)
            causes = [] if before is None else [before]
            stubs = [stub for stub, own in enumerate(self.given) if own == blob]
            for number, literal in reached.items():
                for lug in self.closed[number].lugs:
                    here = clauses.needs_any([self.encoding.stub_at[lug][s] for s in stubs])
                    causes.append(clauses.needs_both(literal, here))
            causes += self._shared(blob, at)
            if causes:
                found[blob] = clauses.needs_any(causes)
        return found

    def _shared(self, blob: int, at: Reached) -> Iterator[Literal]:
        """Reached because a stub of another blob that is reached is on the same net."""
        for (one, other), literal in self.encoding.absorbed.items():
            for near, far in ((one, other), (other, one)):
                if self.given[near] == blob and self.given[far] in at:
                    reached = at[self.given[far]]
                    both = self.encoding.clauses.needs_both
                    yield literal if reached is None else both(literal, reached)


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
