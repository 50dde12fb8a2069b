"""The question in clauses, the solver that answers it, and the time it may take."""

from __future__ import annotations

import threading
import time
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field
from types import TracebackType

from pysat.card import ITotalizer
from pysat.solvers import Solver

from rewire.circuit.states import LimitReached

Literal = int
"""A variable's number, negative for its opposite."""

MOST_CLAUSES = 3_000_000
"""About a gigabyte, with the solver's own copy."""
_LOOK_EVERY = 4096
"""Variables between two looks at the clock."""
_SOLVER = "minisat22"
"""Small, can be interrupted, and the same question gives the same answer every time."""


class OutOfTime(Exception):
    """The time that was given is over."""


@dataclass(slots=True)
class Clock:
    """The time that a search may take; None is without limit."""

    seconds: float | None = None
    start: float = field(default_factory=time.monotonic)

    def left(self) -> float:
        """Seconds that are left, as far as a timer can count; ``OutOfTime`` if there are none."""
        if self.seconds is None:
            return threading.TIMEOUT_MAX
        left = self.seconds - (time.monotonic() - self.start)
        if left <= 0.0:
            raise OutOfTime
        return min(left, threading.TIMEOUT_MAX)


@dataclass(slots=True)
class Clauses:
    """Variables and clauses. Only grows, so every proof stays good."""

    clock: Clock = field(default_factory=Clock)
    clauses: list[list[Literal]] = field(default_factory=list)
    last: int = 0

    def new(self) -> Literal:
        """A fresh variable.

        Raises:
            OutOfTime: the clock ran out while clauses were made.
            LimitReached: too many of them for the memory of a small computer.
        """
        self.last += 1
        if self.last % _LOOK_EVERY == 0:
            self.clock.left()
            if len(self.clauses) > MOST_CLAUSES:
                raise LimitReached(
                    f"this switch takes more than {MOST_CLAUSES:,} clauses to fit: leave out lugs "
                    "that are not needed, or positions"
                )
        return self.last

    def add(self, *literals: Literal) -> None:
        """At least one of these holds."""
        self.clauses.append(list(literals))

    def implies(self, cause: Literal, *effects: Literal) -> None:
        """If the cause holds, one of the effects does."""
        self.clauses.append([-cause, *effects])

    def at_most_one(self, literals: Sequence[Literal]) -> Literal:
        """No two of these hold; a variable that holds just when one does."""
        rung: Literal | None = None
        for literal in literals:
            if rung is not None:
                self.add(-rung, -literal)
            rung = literal if rung is None else self.is_any([rung, literal])
        return self.is_any([]) if rung is None else rung

    def needs_any(self, literals: Sequence[Literal]) -> Literal:
        """A variable that holds only if one of ``literals`` does."""
        if len(literals) == 1:
            return literals[0]
        found = self.new()
        self.implies(found, *literals)
        return found

    def needs_both(self, one: Literal | None, other: Literal) -> Literal:
        """A variable that holds only if both do; None holds anyhow."""
        if one is None:
            return other
        found = self.new()
        self.implies(found, one)
        self.implies(found, other)
        return found

    def is_any(self, literals: Sequence[Literal]) -> Literal:
        """A variable that holds just when one of ``literals`` does."""
        found = self.needs_any(literals)
        if len(literals) > 1:
            self.clauses += [[found, -literal] for literal in literals]
        return found

    def same(self, one: Literal, other: Literal, unless: Iterable[Literal] = ()) -> None:
        """Both hold or neither, unless one of ``unless`` holds."""
        free = list(unless)
        self.clauses += [[*free, -one, other], [*free, one, -other]]


@dataclass(slots=True)
class Engine:
    """The solver for some clauses. It takes in what they have grown by."""

    clauses: Clauses
    _solver: Solver = field(init=False)
    _fed: int = field(init=False, default=0)

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

    def solve(self, under: Sequence[Literal] = (), patience: int = -1) -> bool:
        """Whether the clauses can be satisfied under some assumptions.

        After ``patience`` conflicts the answer is taken to be no; -1: until proven.

        Raises:
            OutOfTime: the clock ran out first.
        """
        for clause in self.clauses.clauses[self._fed :]:
            self._solver.add_clause(clause)
        self._fed = len(self.clauses.clauses)
        self._solver.conf_budget(patience)
        self._solver.clear_interrupt()
        timer = threading.Timer(self.clauses.clock.left(), self._solver.interrupt)
        timer.start()
        answer = self._solver.solve_limited(assumptions=list(under), expect_interrupt=True)
        timer.cancel()
        timer.join()
        if answer is None and patience < 0:
            raise OutOfTime
        return bool(answer)

    def model(self) -> list[Literal]:
        """What satisfies them, after ``solve`` said yes."""
        found: list[Literal] = self._solver.get_model()
        return found

    def core(self) -> set[Literal]:
        """Assumptions that cannot hold together, after ``solve`` said no."""
        return set(self._solver.get_core() or ())


@dataclass(slots=True)
class Price:
    """How many of some literals hold, as a bound to be assumed (a totalizer)."""

    engine: Engine
    literals: Sequence[Literal]
    _bounds: list[Literal] = field(init=False)

    def __post_init__(self) -> None:
        clauses, most = self.engine.clauses, len(self.literals)
        with ITotalizer(list(self.literals), ubound=most, top_id=clauses.last) as total:
            clauses.clauses += total.cnf.clauses
            clauses.last = max(clauses.last, total.top_id)
            self._bounds = list(total.rhs)

    def of(self, model: Sequence[Literal]) -> int:
        """How many hold in a model."""
        return len({*self.literals} & {*model})

    def at_most(self, count: int) -> list[Literal]:
        """What to assume so that at most ``count`` hold."""
        return [-self._bounds[count]] if count < len(self._bounds) else []

    def least(self, under: Sequence[Literal] = (), floor: int = 0) -> int:
        """The fewest, ``floor`` or more, that can hold under some assumptions; -1 if none can."""
        count = max(floor, 0)
        while not self.engine.solve([*under, *self.at_most(count)]):
            if not self.engine.core() & {*self.at_most(count)}:
                return -1
            count += 1
        return count
