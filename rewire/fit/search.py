"""The search: cheapest landing first, each compared with the original before it counts.

The solver proposes, the comparison disposes: what it finds while switching comes
back as further clauses until a landing is kept, or no landing is left. Each round
adds demands that every good landing meets, so a refusal is a proof, and so is the
price of the landing that is kept.
"""

from __future__ import annotations

import threading
import time
from collections.abc import Callable, Iterator, Mapping, Sequence
from contextlib import contextmanager
from dataclasses import dataclass, field, replace
from functools import cached_property

from pysat.card import ITotalizer
from pysat.examples.rc2 import RC2
from pysat.formula import WCNF
from pysat.solvers import Solver

from rewire.circuit.states import LimitReached
from rewire.compare import Finding, Result
from rewire.compare.comparing import compare_wiring
from rewire.compare.findings import INFORMATION
from rewire.fit.build import plan_of, wiring_of
from rewire.fit.clauses import Literal
from rewire.fit.encode import Board, Paint, Reach, steps_needed
from rewire.fit.landing import Landing
from rewire.fit.moments import Moments
from rewire.fit.offers import Detents, Offer
from rewire.fit.stubs import Bare
from rewire.fit.ties import Demand
from rewire.spec.model import Spec

WAIVABLE = ("gap", "bridge", "interrupted", "stray")
_SOLVER = "glucose4"
_TRIAL = "fit"


@dataclass(frozen=True)
class Task:
    """What is to be landed."""

    bare: Bare
    demands: tuple[Demand | None, ...]
    waived: frozenset[str] = frozenset()

    @property
    def spec(self) -> Spec:
        """The spec it is about."""
        return self.bare.spec

    @cached_property
    def own_faults(self) -> Mapping[int, frozenset[object]]:
        """Rules that the original itself breaks, and where."""
        same = replace(self.spec.original, name=_TRIAL, changes=())
        found = compare_wiring(self.spec, same).findings
        broken = (f for f in found if f.kind == "rule" and f.rule is not None)
        return {f.rule: frozenset((*f.states, *f.steps)) for f in broken if f.rule is not None}

    def obstacles(self, result: Result) -> list[Finding]:
        """What of a comparison stands in the way."""
        found = (f for f in result.findings if f.kind not in INFORMATION)
        return [f for f in found if f.kind not in self.waived and not self._is_own(f)]

    def _is_own(self, finding: Finding) -> bool:
        if finding.kind != "rule" or finding.rule is None:
            return False
        where = {*finding.states, *finding.steps}
        return where <= self.own_faults.get(finding.rule, frozenset())


@dataclass(frozen=True)
class Found:
    """What the search came to."""

    landing: Landing | None
    result: Result | None = None
    proven: bool = True
    """The landing is the cheapest, or there is none; false if the time ran out."""
    least_jumpers: int = 0
    """No landing has fewer."""
    rounds: int = 0
    given_up: int = 0


@dataclass(slots=True)
class Clock:
    """The time that a search may take; None is without limit."""

    seconds: float | None = None
    start: float = field(default_factory=time.monotonic)

    def left(self) -> float | None:
        """Seconds that are left."""
        if self.seconds is None:
            return None
        return max(0.0, self.seconds - (time.monotonic() - self.start))

    def is_over(self) -> bool:
        """Whether none is left."""
        return self.left() == 0.0

    @contextmanager
    def ending(self, interrupt: Callable[[], None]) -> Iterator[None]:
        """Call ``interrupt`` when the time is over, if that is before the end of the block."""
        left = self.left()
        if left is None:
            yield
            return
        timer = threading.Timer(left, interrupt)
        timer.start()
        try:
            yield
        finally:
            timer.cancel()


@dataclass(slots=True)
class Search:
    """One offer, one reading of its timings."""

    task: Task
    offer: Offer
    ways: Sequence[Detents]
    free: bool
    """Whether timings that are not stated, or not known, may be asked for as needed."""
    clock: Clock
    board: Board = field(init=False)
    moments: Moments = field(init=False)
    rounds: int = field(init=False, default=0)
    _judged: dict[Landing, Result] = field(init=False, default_factory=dict)
    _fed: int = field(init=False, default=0)

    def __post_init__(self) -> None:
        offer = _with_free_timings(self.offer) if self.free else self.offer
        self.board = Board(offer, len(self.task.bare.stubs), self.ways)
        self.board.allow_absorbing(self.task.demands)
        self.moments = Moments(self.task.bare, self.board)
        self._fix_timings()

    def _fix_timings(self) -> None:
        sections = zip(self.offer.switch.sections, self.board.shorting, strict=True)
        for section, literal in sections:
            is_open = not section.timing_stated or section.timing == "unknown"
            if not (self.free and is_open):
                self.board.clauses.add(literal if section.timing == "shorting" else -literal)

    def ask_at_rest(self) -> None:
        """Put the ties at rest to the solver."""
        for position, demand in enumerate(self.task.demands):
            if demand is None:
                continue
            closed = list(self.board.at_detent(position))
            Paint(self.board, closed).apart(demand.may)
            for wanted in demand.wanted:
                goals = wanted.goals()
                by_way = [
                    [c for c in closed if not c.only_if or way in c.only_if]
                    for way in self.board.way
                ]
                steps = steps_needed(self.board, by_way, goals)
                Reach(self.board, closed, wanted.given, steps).tied(goals)

    def cheapest(self) -> Found:
        """The landing with the fewest connections, then jumpers, then poles in order."""
        formula = WCNF()
        for clause in self._fresh():
            formula.append(clause)
        for literal, weight in self._prices():
            formula.append([-literal], weight=weight)
        with RC2(formula, solver=_SOLVER, exhaust=True, minz=True) as solver:
            landing = self._settle(solver)
            cost = solver.cost
        if landing is None:
            return Found(None, proven=not self.clock.is_over(), rounds=self.rounds)
        best = self._in_order(landing) if not self.clock.is_over() else landing
        return Found(best, self._judged[best], True, best.jumpers, self.rounds, cost)

    def _settle(self, solver: RC2) -> Landing | None:
        """Solve, compare, add what was found, until a landing is kept."""
        while True:
            with self.clock.ending(solver.interrupt):
                model = solver.compute(expect_interrupt=self.clock.seconds is not None)
            if model is None or self.clock.is_over():
                return None
            landing = self.board.read(model)
            if self.is_kept(landing):
                return landing
            for clause in self._fresh():
                solver.add_clause(clause)

    def is_kept(self, landing: Landing) -> bool:
        """Compare a landing with the original; what stands in its way becomes clauses."""
        if landing in self._judged:
            return not self.task.obstacles(self._judged[landing])
        self.rounds += 1
        plan = plan_of(self.task.bare, self.board.offer, landing, "new")
        result = compare_wiring(self.task.spec, wiring_of(self.task.bare, plan, _TRIAL))
        self._judged[landing] = result
        obstacles = self.task.obstacles(result)
        for finding in obstacles:
            if finding.kind not in (*WAIVABLE, "rule"):
                raise AssertionError(f"a landing that is not right at rest: {finding.message}")
            self.moments.rule_out(landing, finding, self.task.waived)
        return not obstacles

    def _fresh(self) -> list[list[Literal]]:
        clauses = self.board.clauses.clauses[self._fed :]
        self._fed += len(clauses)
        return clauses

    def _prices(self) -> Iterator[tuple[Literal, int]]:
        """Connections first, then jumpers: what each costs."""
        jumper = 1
        connection = jumper * (len(self.board.lugs) + 1)
        timing = connection * (self.board.stubs + 1)
        yield from ((literal, connection) for literal in self._landing_somewhere())
        yield from ((literal, jumper) for literal in self._jumpers())
        if self.free:
            yield from ((literal, timing) for literal in self.board.shorting)

    def _landing_somewhere(self) -> list[Literal]:
        return [*self.board.lands, *self.board.absorbed.values()]

    _jumper_literals: list[Literal] = field(init=False, default_factory=list)

    def _jumpers(self) -> list[Literal]:
        """One literal for each lug beyond the first of its net."""
        if self._jumper_literals:
            return self._jumper_literals
        board = self.board
        found = list(board.behind)
        beyond: list[list[Literal]] = [[] for _ in board.lugs]
        for stub in range(board.stubs):
            literals = [of_lug[stub] for of_lug in board.stub_at]
            most = self._usual_lugs(stub)
            counts, overs = _counted(board, literals, most)
            found += counts
            for lug, over in overs:
                beyond[lug].append(over)
        found += [board.clauses.is_any(literals) for literals in beyond if literals]
        self._jumper_literals = found
        return found

    def _usual_lugs(self, stub: int) -> int:
        """So many lugs a stub may need at rest; more are counted one by one."""
        total = 0
        for demand in self.task.demands:
            for wanted in demand.wanted if demand else ():
                goals = (goal for goal in wanted.goals() if wanted.given[stub] in goal)
                total += sum(len(goal) - 1 for goal in goals)
        return max(2, min(total, len(self.board.lugs)))

    def _in_order(self, landing: Landing) -> Landing:
        """Of all landings that cost the same, the first in the order of lugs and stubs."""
        return InOrder(self).first(landing)


def _counted(
    board: Board, literals: Sequence[Literal], most: int
) -> tuple[list[Literal], list[tuple[int, Literal]]]:
    """Count lugs of one stub from the second on; per lug whether it comes after ``most``."""
    clauses = board.clauses
    before: list[Literal] = []
    overs: list[tuple[int, Literal]] = []
    for lug, literal in enumerate(literals):
        if len(before) == most:
            over = clauses.new()
            clauses.add(-literal, -before[-1], over)
            overs.append((lug, over))
        after = [clauses.new() for _ in range(min(len(before) + 1, most))]
        for number, variable in enumerate(after):
            if number < len(before):
                clauses.implies(before[number], variable)
            if number == 0:
                clauses.implies(literal, variable)
            else:
                clauses.add(-literal, -before[number - 1], variable)
        before = after
    return before[1:], overs


def _with_free_timings(offer: Offer) -> Offer:
    """What is not stated, or not known, as non-shorting until it is asked for otherwise."""
    sections = tuple(
        replace(s, timing="non-shorting") if s.timing == "unknown" else s
        for s in offer.switch.sections
    )
    return replace(offer, switch=replace(offer.switch, sections=sections))


@dataclass(slots=True)
class InOrder:
    """Fix one lug after the other to the first net it can be on, the price being fixed."""

    search: Search

    def first(self, landing: Landing) -> Landing:
        """The first of all landings with the price of ``landing``."""
        search = self.search
        with Solver(name=_SOLVER, bootstrap_with=search.board.clauses.clauses) as solver:
            self._fix_price(solver, landing)
            search._fed = len(search.board.clauses.clauses)
            return self._walk(solver, landing)

    def _fix_price(self, solver: Solver, landing: Landing) -> None:
        board = self.search.board
        shorting = sum(timing == "shorting" for timing in landing.timings)
        prices = [
            (self.search._landing_somewhere(), landing.connections),
            (self.search._jumpers(), landing.jumpers),
        ]
        if self.search.free:
            prices.append((board.shorting, shorting))
        for literals, most in prices:
            if most >= len(literals):
                continue
            with ITotalizer(literals, ubound=most, top_id=board.clauses.last) as total:
                for clause in total.cnf.clauses:
                    solver.add_clause(clause)
                solver.add_clause([-total.rhs[most]])
                while board.clauses.last < total.top_id:
                    board.clauses.new()

    def _walk(self, solver: Solver, landing: Landing) -> Landing:
        fixed: list[Literal] = []
        best = landing
        for choices in self._choices():
            for choice in choices:
                if self._holds(choice, best):
                    fixed.append(choice)
                    break
                better = self._try(solver, [*fixed, choice])
                if better is not None:
                    best = better
                    fixed.append(choice)
                    break
        return best

    def _choices(self) -> Iterator[list[Literal]]:
        """What is to be decided, one after the other, the best choice first."""
        board = self.search.board
        yield board.way
        for lug in range(len(board.lugs)):
            yield [*board.stub_at[lug], *board.private_at[lug].values(), -board.used[lug]]
        for literal in (*board.absorbed.values(), *board.shorting):
            yield [-literal, literal]

    def _holds(self, choice: Literal, landing: Landing) -> bool:
        return choice in self._true(landing)

    def _true(self, landing: Landing) -> set[Literal]:
        board = self.search.board
        true = {board.way[board.ways.index(landing.way)]}
        spare = set(range(len(board.lugs)))
        for stubs, lugs in landing.nets:
            for lug in (board.number[lug] for lug in lugs):
                spare.discard(lug)
                first = board.number[lugs[0]]
                true.add(board.stub_at[lug][stubs[0]] if stubs else board.private_at[lug][first])
            true |= {board.absorbed[stubs[0], other] for other in stubs[1:]}
        true |= {-board.used[lug] for lug in spare}
        true |= {-v for v in board.absorbed.values() if v not in true}
        shorting = zip(board.shorting, landing.timings, strict=True)
        return true | {v if timing == "shorting" else -v for v, timing in shorting}

    def _try(self, solver: Solver, fixed: Sequence[Literal]) -> Landing | None:
        """A landing with these choices that is kept; None if there is none."""
        while solver.solve(assumptions=list(fixed)):
            landing = self.search.board.read(solver.get_model())
            if self.search.is_kept(landing):
                return landing
            for clause in self.search._fresh():
                solver.add_clause(clause)
        return None


def search(task: Task, offer: Offer, ways: Sequence[Detents], clock: Clock) -> Found:
    """The cheapest landing of a task on an offer.

    Timings that the offer does not state are read as the format says first; if that
    leaves no landing, as few of them as will do are asked to be shorting.
    """
    found = Found(None)
    if not ways:
        return found
    for free in (False, True) if offer.open_timings else (False,):
        one = Search(task, offer, ways, free, clock)
        one.ask_at_rest()
        found = one.cheapest()
        if found.landing is not None or clock.is_over():
            return found
    return found


__all__ = ["Clock", "Found", "LimitReached", "Search", "Task", "search"]
