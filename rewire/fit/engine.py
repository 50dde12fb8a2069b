"""The solver: one that learns as clauses are added, with a clock beside it."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field
from types import TracebackType

from pysat.card import ITotalizer
from pysat.solvers import Solver

from rewire.fit.clauses import Literal
from rewire.fit.clock import Clock, OutOfTime
from rewire.fit.encode import Board

_SOLVER = "minisat22"
"""Small, can be interrupted, and the same question gives the same answer every time."""


GLANCE = 3000
"""Conflicts spent on a hint."""


@dataclass(slots=True)
class Engine:
    """The solver for one board. It takes in what the board's clauses have grown by."""

    board: Board
    clock: Clock
    _solver: Solver = field(init=False)
    _fed: int = field(init=False, default=0)
    undecided: bool = field(init=False, default=False)
    """Whether the last question was left open, for patience ran out."""

    def __enter__(self) -> Engine:
        self._solver = Solver(name=_SOLVER)
        return self

    def __exit__(
        self,
        kind: type[BaseException] | None,
        error: BaseException | None,
        at: TracebackType | None,
    ) -> None:
        self._solver.delete()

    def solve(self, under: Sequence[Literal] = (), patience: int | None = None) -> bool:
        """Whether the clauses can be satisfied under some assumptions.

        Args:
            under: literals that are assumed to hold.
            patience: conflicts after which the answer is taken to be no; None: until proven.

        Raises:
            OutOfTime: the clock ran out first.
        """
        clauses = self.board.clauses.clauses
        for clause in clauses[self._fed :]:
            self._solver.add_clause(clause)
        self._fed = len(clauses)
        assumed = list(under)
        self._solver.conf_budget(-1 if patience is None else patience)
        self.undecided = False
        if patience is not None:
            with self.clock.ending(_nothing):
                answer = self._solver.solve_limited(assumptions=assumed)
            self.undecided = answer is None
            return bool(answer)
        if self.clock.seconds is None:
            return bool(self._solver.solve(assumptions=assumed))
        self._solver.clear_interrupt()
        with self.clock.ending(self._solver.interrupt):
            answer = self._solver.solve_limited(assumptions=assumed, expect_interrupt=True)
        if answer is None:
            raise OutOfTime
        return bool(answer)

    def model(self) -> list[Literal]:
        """What satisfies them, after ``solve`` said yes."""
        found: list[Literal] = self._solver.get_model()
        return found

    def core(self) -> set[Literal]:
        """Assumptions that cannot hold together, after ``solve`` said no."""
        return set(self._solver.get_core() or ())


def _nothing() -> None:
    """A search that is counted in conflicts needs no interrupting."""


@dataclass(slots=True)
class Price:
    """How many of some literals hold, as a bound to be assumed."""

    engine: Engine
    literals: Sequence[Literal]
    _bounds: list[Literal] = field(init=False)

    def __post_init__(self) -> None:
        clauses = self.engine.board.clauses
        with ITotalizer(
            list(self.literals), ubound=len(self.literals), top_id=clauses.last
        ) as total:
            clauses.clauses += total.cnf.clauses
            while clauses.last < total.top_id:
                clauses.new()
            self._bounds = list(total.rhs)

    def of(self, model: Sequence[Literal]) -> int:
        """How many hold in a model."""
        true = set(model)
        return sum(literal in true for literal in self.literals)

    def at_most(self, count: int) -> list[Literal]:
        """What to assume so that at most ``count`` hold."""
        return [-self._bounds[count]] if count < len(self._bounds) else []

    def least(
        self, under: Sequence[Literal], floor: int = 0, hints: Sequence[Sequence[Literal]] = ()
    ) -> int:
        """The fewest that can hold under some assumptions; -1 if nothing satisfies those.

        Args:
            under: literals that are assumed to hold.
            floor: so many must hold, as is known already.
            hints: further assumptions worth a look first, one list after the other.
        """
        count: int | None = None
        floor = max(floor, 0)
        for hint in (*hints, ()):
            while count is None or count > floor:
                bound = [] if count is None else self.at_most(count - 1)
                if not self.engine.solve([*under, *bound, *hint], GLANCE if hint else None):
                    break
                count = self.of(self.engine.model())
        return -1 if count is None else count
