"""The landing as a question in clauses: where every lug may be, what must and must not be tied.

Every lug of the new switch is on the net of one stub, on a *private* net (lugs
that are only jumpered with each other, known by the first of them), or spare.
Two stubs that are tied in every state may share a net: the later is *absorbed*.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from itertools import combinations, pairwise

from rewire.fit.clauses import Clauses, Literal
from rewire.fit.landing import Landing
from rewire.fit.offers import Detents, Offer
from rewire.fit.ties import Demand, Labels
from rewire.records.spec import Timing

Guards = tuple[Literal, ...]
"""Opposites of what a clause is asked under: any of them holding lets it go."""


@dataclass(frozen=True, slots=True)
class Closed:
    """A group of lugs (by number) that contacts close, if every literal of ``only_if`` holds."""

    lugs: tuple[int, ...]
    only_if: tuple[Literal, ...] = ()


@dataclass(slots=True)
class Board:
    """Variables of one question: an offer, and so many stubs."""

    offer: Offer
    stubs: int
    ways: Sequence[Detents]
    clauses: Clauses = field(default_factory=Clauses)
    lugs: tuple[str, ...] = field(init=False)
    number: Mapping[str, int] = field(init=False)
    stub_at: list[list[Literal]] = field(init=False)
    """Per lug and stub: the lug is on the stub's net."""
    private_at: list[dict[int, Literal]] = field(init=False)
    """Per lug and first lug: the lug is on the private net that begins there."""
    used: list[Literal] = field(init=False)
    """Per lug: something is on it."""
    behind: list[Literal] = field(init=False)
    """Per lug: it is on a private net, and not its first lug."""
    lands: list[Literal] = field(init=False)
    """Per stub: it lands somewhere."""
    absorbed: dict[tuple[int, int], Literal] = field(init=False, default_factory=dict)
    """Per pair of stubs that are always tied: the second lands with the first."""
    way: list[Literal] = field(init=False)
    shorting: list[Literal] = field(init=False)
    """Per section: it makes before it breaks."""

    def __post_init__(self) -> None:
        self.lugs = self.offer.switch.terminals
        self.number = {lug: number for number, lug in enumerate(self.lugs)}
        new = self.clauses.new
        count = len(self.lugs)
        idle = {self.number[lug] for lug in self.offer.switch.idle_lugs}
        self.stub_at = [[new() for _ in range(self.stubs)] for _ in range(count)]
        self.private_at = [
            {} if lug in idle else {first: new() for first in range(lug + 1) if first not in idle}
            for lug in range(count)
        ]
        self.shorting = [new() for _ in self.offer.switch.sections]
        self.way = [new() for _ in self.ways]
        self._one_way()
        self._one_net_each()
        self._private_nets()
        self.lands = [
            self.clauses.is_any([self.stub_at[lug][stub] for lug in range(count)])
            for stub in range(self.stubs)
        ]
        self._alike_poles()

    def _one_way(self) -> None:
        self.clauses.add(*self.way)
        for one, other in combinations(self.way, 2):
            self.clauses.add(-one, -other)

    def _one_net_each(self) -> None:
        """Ladder over the nets a lug may be on, those of stubs first."""
        self.used = []
        for lug, of_stubs in enumerate(self.stub_at):
            rung: Literal | None = None
            for choice in (*of_stubs, *self.private_at[lug].values()):
                rung = choice if rung is None else self._rung(rung, choice)
            self.used.append(rung if rung is not None else self._never())

    def _rung(self, below: Literal, choice: Literal) -> Literal:
        self.clauses.add(-below, -choice)
        return self.clauses.is_any([below, choice])

    def _never(self) -> Literal:
        variable = self.clauses.new()
        self.clauses.add(-variable)
        return variable

    def _private_nets(self) -> None:
        self.behind = []
        for lug, firsts in enumerate(self.private_at):
            for first, literal in firsts.items():
                if first != lug:
                    self.clauses.implies(literal, self.private_at[first][first])
            others = [literal for first, literal in firsts.items() if first != lug]
            self.behind.append(self.clauses.is_any(others) if others else self._never())
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
        """Stubs that may be tied at every position may land on one net."""
        labels = [demand.may for demand in demands if demand is not None]
        keys = [tuple(one[stub] for one in labels) for stub in range(self.stubs)]
        for one, other in combinations(range(self.stubs), 2):
            if keys[one] == keys[other]:
                self.absorbed[one, other] = self.clauses.new()
        for stub in range(self.stubs):
            self._absorb(stub)

    def _absorb(self, stub: int) -> None:
        into = [literal for (_, other), literal in self.absorbed.items() if other == stub]
        for (one, other), literal in self.absorbed.items():
            if other == stub:
                self.clauses.implies(literal, self.lands[one])
                self.clauses.implies(literal, -self.lands[stub])
        for a, b in combinations(into, 2):
            self.clauses.add(-a, -b)

    def at_detent(self, position: int) -> Iterator[Closed]:
        """Contacts closed at a position, for every way the detents may serve."""
        for way, literal in zip(self.ways, self.way, strict=True):
            only_if = (literal,) if len(self.ways) > 1 else ()
            for section in self.offer.switch.sections:
                for group in section.groups[way[position]]:
                    yield Closed(tuple(self.number[lug] for lug in group), only_if)

    def read(self, model: Sequence[Literal]) -> Landing:
        """The landing that a model of the clauses tells of."""
        true = {literal for literal in model[: self.clauses.last] if literal > 0}
        nets: list[tuple[tuple[int, ...], tuple[str, ...]]] = []
        for stub in range(self.stubs):
            lugs = [g for lug, g in enumerate(self.lugs) if self.stub_at[lug][stub] in true]
            with_it = [
                o for (s, o), literal in self.absorbed.items() if s == stub and literal in true
            ]
            if lugs:
                nets.append(((stub, *with_it), tuple(lugs)))
        for first in range(len(self.lugs)):
            lugs = [
                g for g, f in zip(self.lugs, self.private_at, strict=True) if f.get(first) in true
            ]
            if lugs:
                nets.append(((), tuple(lugs)))
        way = next(w for w, literal in zip(self.ways, self.way, strict=True) if literal in true)
        return Landing(tuple(nets), way, self._timings(true))

    def _timings(self, true: set[Literal]) -> tuple[Timing, ...]:
        found: list[Timing] = []
        for section, literal in zip(self.offer.switch.sections, self.shorting, strict=True):
            known = section.timing == "unknown"
            found.append("unknown" if known else "shorting" if literal in true else "non-shorting")
        return tuple(found)


@dataclass(slots=True)
class Paint:
    """Keep stubs apart: every lug and net gets a colour that closed contacts carry on."""

    board: Board
    closed: Sequence[Closed]

    def apart(self, labels: Labels) -> None:
        """No contacts tie stubs with different labels; colours are the labels, bit by bit."""
        bits = max(labels, default=0).bit_length()
        for bit in range(bits):
            colours = [bool(label >> bit & 1) for label in labels]
            self._bit(colours)

    def _bit(self, colours: Sequence[bool]) -> None:
        board, clauses = self.board, self.board.clauses
        of_lug, _ = self._carried(())
        for lug, colour in of_lug.items():
            for stub, dark in enumerate(colours):
                clauses.implies(board.stub_at[lug][stub], colour if dark else -colour)

    def never_tied(self, one: set[int], other: set[int], outside: Labels, unless: Guards) -> None:
        """Two places are not tied here.

        Args:
            one: stubs at the one place, tied to it from outside.
            other: those at the other.
            outside: per stub its group, tied from outside.
            unless: literals, any of which lets the demand go.
        """
        board, clauses = self.board, self.board.clauses
        blobs = {label: clauses.new() for label in sorted(set(outside))}
        of_lug, _ = self._carried(unless)
        for lug, colour in of_lug.items():
            for stub, label in enumerate(outside):
                clauses.same(colour, blobs[label], (*unless, -board.stub_at[lug][stub]))
        for (a, b), literal in board.absorbed.items():
            clauses.same(blobs[outside[a]], blobs[outside[b]], (*unless, -literal))
        for stub in one:
            clauses.add(*unless, blobs[outside[stub]])
        for stub in other:
            clauses.add(*unless, -blobs[outside[stub]])

    def _carried(self, unless: Guards) -> tuple[dict[int, Literal], dict[int, Literal]]:
        """A colour for every lug in play, carried by closed contacts and private nets."""
        board, clauses = self.board, self.board.clauses
        lugs = sorted({lug for closed in self.closed for lug in closed.lugs})
        of_lug = {lug: clauses.new() for lug in lugs}
        firsts = {first for lug in lugs for first in board.private_at[lug]}
        of_first = {first: clauses.new() for first in sorted(firsts)}
        for closed in self.closed:
            free = (*unless, *(-literal for literal in closed.only_if))
            for one, other in pairwise(closed.lugs):
                clauses.same(of_lug[one], of_lug[other], free)
        for lug in lugs:
            for first, literal in board.private_at[lug].items():
                clauses.same(of_lug[lug], of_first[first], (*unless, -literal))
        return of_lug, of_first


@dataclass(slots=True)
class Reach:
    """Demand that stubs are tied: step by step from a root, one more contact at a time."""

    board: Board
    closed: Sequence[Closed]
    given: Labels
    """Per stub its blob: what is tied from outside."""
    steps: int
    """Contacts that a way may have at most."""
    over: Sequence[int] = ()
    """Further blobs that a way may go over."""

    def tied(
        self, goals: Sequence[Sequence[int]], unless: Guards = (), loose: bool = False
    ) -> list[Literal]:
        """All blobs of each goal are tied with each other.

        Args:
            goals: groups of blobs; different ones are never tied (the paint sees to that).
            unless: literals, any of which lets the demand go.
            loose: let every blob but the first of a goal be given up, at a price.

        Returns:
            If loose, the prices: for each such blob a literal that holds if it is given up.
        """
        clauses = self.board.clauses
        wanted = [blob for goal in goals for blob in goal[1:]]
        prices = {blob: clauses.new() for blob in wanted} if loose else {}
        at: dict[int, Literal | None] = dict.fromkeys((goal[0] for goal in goals), None)
        at |= prices
        if self.steps < 1 and not loose:
            clauses.add(*unless)
        of_first: dict[int, Literal] = {}
        for step in range(max(self.steps, 0)):
            reached = self._reached_contacts(at, of_first)
            last = step == self.steps - 1
            of_first = {} if last else self._next_firsts(reached, of_first)
            at = self._next_blobs(at, reached, [*wanted, *self.over])
        for blob in wanted:
            literal = at.get(blob)
            clauses.add(*unless, *([literal] if literal is not None else []))
        return [prices[blob] for blob in wanted] if loose else []

    def _reached_contacts(
        self, at: Mapping[int, Literal | None], of_first: Mapping[int, Literal]
    ) -> dict[int, Literal]:
        """Per closed group a variable that holds only if a lug of it is reached."""
        clauses = self.board.clauses
        found: dict[int, Literal] = {}
        for number, closed in enumerate(self.closed):
            causes = [c for lug in closed.lugs for c in self._reasons(lug, at, of_first)]
            if not causes:
                continue
            variable = found[number] = clauses.new()
            clauses.implies(variable, *causes)
            for literal in closed.only_if:
                clauses.implies(variable, literal)
        return found

    def _reasons(
        self, lug: int, at: Mapping[int, Literal | None], of_first: Mapping[int, Literal]
    ) -> Iterator[Literal]:
        board = self.board
        for stub, blob in enumerate(self.given):
            if blob in at:
                literal, here = at[blob], board.stub_at[lug][stub]
                yield here if literal is None else board.clauses.both(literal, here)
        for first, here in board.private_at[lug].items():
            if first in of_first:
                yield board.clauses.both(of_first[first], here)

    def _next_firsts(
        self, reached: Mapping[int, Literal], of_first: Mapping[int, Literal]
    ) -> dict[int, Literal]:
        board = self.board
        causes: dict[int, list[Literal]] = {f: [literal] for f, literal in of_first.items()}
        for number, literal in reached.items():
            for lug in self.closed[number].lugs:
                for first, here in board.private_at[lug].items():
                    causes.setdefault(first, []).append(board.clauses.both(literal, here))
        return {first: board.clauses.either(c) for first, c in causes.items()}

    def _next_blobs(
        self,
        at: Mapping[int, Literal | None],
        reached: Mapping[int, Literal],
        blobs: Sequence[int],
    ) -> dict[int, Literal | None]:
        board, found = self.board, dict(at)
        stubs: dict[int, list[int]] = {}
        for stub, blob in enumerate(self.given):
            stubs.setdefault(blob, []).append(stub)
        for blob in blobs:
            before = at.get(blob)
            causes = [] if before is None else [before]
            for number, literal in reached.items():
                for lug in self.closed[number].lugs:
                    here = board.clauses.either([board.stub_at[lug][s] for s in stubs[blob]])
                    causes.append(board.clauses.both(literal, here))
            causes += self._shared(blob, at)
            if causes:
                found[blob] = board.clauses.either(causes)
        return found

    def _shared(self, blob: int, at: Mapping[int, Literal | None]) -> Iterator[Literal]:
        """Reached because a stub of another blob that is reached lands on the same net."""
        for (one, other), literal in self.board.absorbed.items():
            for near, far in ((one, other), (other, one)):
                if self.given[near] == blob and self.given[far] in at:
                    reached = at[self.given[far]]
                    yield literal if reached is None else self.board.clauses.both(literal, reached)


def steps_needed(
    board: Board, groups: Sequence[Sequence[Closed]], goals: Sequence[Sequence[int]]
) -> int:
    """Contacts that a way between two blobs of a goal may have at most.

    Every other goal needs contacts of its own; where each group has two lugs, one
    contact ties two blobs and no more. Landing on one net counts as a step.

    Args:
        board: the question.
        groups: for every way the detents may serve, what is closed.
        goals: what is to be tied.
    """
    most = max((len(closed) for closed in groups), default=0)
    if all(len(one.lugs) == 2 for closed in groups for one in closed) and not board.absorbed:
        total = sum(len(goal) - 1 for goal in goals)
        longest = max((len(goal) - 1 for goal in goals), default=0)
        return most - total + longest if total <= most else 0
    return most + min(len(board.absorbed), board.stubs - 1)
