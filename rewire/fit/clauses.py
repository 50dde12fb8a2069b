"""Clauses: a question put to the solver, as it grows."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass, field
from itertools import count

from rewire.circuit import LimitReached
from rewire.fit.clock import Clock, OutOfTime

Literal = int
"""A variable's number, negative for its opposite."""

MOST_CLAUSES = 3_000_000
"""About a gigabyte, with the solver's own copy."""
_LOOK_EVERY = 4096
"""Variables between two looks at the clock."""


@dataclass(slots=True)
class Clauses:
    """Variables and clauses. Only grows, so every proof stays good."""

    clauses: list[list[Literal]] = field(default_factory=list)
    clock: Clock = field(default_factory=Clock)
    _numbers: Iterator[int] = field(default_factory=lambda: count(1))
    last: int = 0

    def new(self) -> Literal:
        """A fresh variable.

        Raises:
            OutOfTime: the clock ran out while clauses were made.
            LimitReached: too many of them for the memory of a small computer.
        """
        self.last = next(self._numbers)
        if self.last % _LOOK_EVERY == 0:
            self._look()
        return self.last

    def _look(self) -> None:
        if self.clock.left() == 0.0:
            raise OutOfTime
        if len(self.clauses) > MOST_CLAUSES:
            raise LimitReached(
                f"this switch takes more than {MOST_CLAUSES:,} clauses to fit: leave out lugs "
                "that are not needed, or positions"
            )

    def add(self, *literals: Literal) -> None:
        """At least one of these holds."""
        self.clauses.append(list(literals))

    def implies(self, cause: Literal, *effects: Literal) -> None:
        """If the cause holds, one of the effects does."""
        self.clauses.append([-cause, *effects])

    def either(self, literals: Sequence[Literal]) -> Literal:
        """A variable that holds only if one of ``literals`` does."""
        if len(literals) == 1:
            return literals[0]
        found = self.new()
        self.clauses.append([-found, *literals])
        return found

    def both(self, one: Literal, other: Literal) -> Literal:
        """A variable that holds only if both do."""
        found = self.new()
        self.clauses += [[-found, one], [-found, other]]
        return found

    def is_any(self, literals: Sequence[Literal]) -> Literal:
        """A variable that holds just when one of ``literals`` does."""
        if len(literals) == 1:
            return literals[0]
        found = self.new()
        self.clauses.append([-found, *literals])
        self.clauses += [[found, -literal] for literal in literals]
        return found

    def same(self, one: Literal, other: Literal, unless: Iterable[Literal] = ()) -> None:
        """Both hold or neither, unless one of ``unless`` holds."""
        free = list(unless)
        self.clauses += [[*free, -one, other], [*free, one, -other]]
