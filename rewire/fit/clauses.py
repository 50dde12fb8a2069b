"""Clauses: a question put to the solver, as it grows."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass, field
from itertools import count

Literal = int
"""A variable's number, negative for its opposite."""


@dataclass(slots=True)
class Clauses:
    """Variables and clauses. Only grows, so every proof stays good."""

    clauses: list[list[Literal]] = field(default_factory=list)
    _numbers: Iterator[int] = field(default_factory=lambda: count(1))
    last: int = 0

    def new(self) -> Literal:
        """A fresh variable."""
        self.last = next(self._numbers)
        return self.last

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
