"""What the program said beside what the simulator says: counted, and the worst difference kept."""

from collections import Counter
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field
from fractions import Fraction
from typing import Any

from tests.simulator import engine, exact
from tests.simulator.netlist import Circuit

AGREES = 1e-6
"""Relative difference up to which two figures are one."""
Take = Callable[[Sequence[Mapping[str, Any]]], Any]


@dataclass(frozen=True)
class Question:
    """A figure that was told, and how to get it from solved circuits.

    ``least`` is the size below which a figure counts as nothing.
    """

    about: str
    told: float | None
    circuits: Sequence[Circuit]
    take: Take
    least: float


@dataclass
class Ledger:
    """Questions asked so far, and what came of them."""

    questions: list[Question] = field(default_factory=list)
    wrong: list[str] = field(default_factory=list)
    counts: Counter[str] = field(default_factory=Counter)
    worst: float = 0.0
    by_fractions: int = 0

    def ask(
        self, about: str, told: float | None, circuits: Sequence[Circuit], take: Take, least: float
    ) -> None:
        """A figure to be compared when the circuits are solved."""
        self.questions.append(Question(about, told, circuits, take, least))

    def same(self, about: str, told: object, ours: object) -> None:
        """What needs no circuit: null, open, a list of rules."""
        self.counts[_kind(about)] += 1
        if told != ours:
            self.wrong.append(f"{about}: told {told!r}, simulated {ours!r}")

    @property
    def compared(self) -> int:
        """How many figures were held to the simulator."""
        return sum(self.counts.values())

    def settle(self) -> None:
        """Solve all circuits, compare; exact fractions decide where the two differ.

        Raises:
            AssertionError: a figure disagrees.
        """
        asked, self.questions = self.questions, []
        circuits = {id(c): c for question in asked for c in question.circuits}
        solved = dict(zip(circuits, engine.volts([*circuits.values()]), strict=True))
        for question in asked:
            ours = question.take([solved[id(circuit)] for circuit in question.circuits])
            self.counts[_kind(question.about)] += 1
            apart = difference(question.told, ours, question.least)
            if apart > AGREES:
                self.by_fractions += 1
                ours = question.take([exact.volts(circuit) for circuit in question.circuits])
                apart = difference(question.told, ours, question.least)
            if apart > AGREES:
                self.wrong.append(
                    f"{question.about}: told {question.told!r}, simulated {told(ours)}"
                )
            else:
                self.worst = max(self.worst, apart)
        assert not self.wrong, "\n".join([f"{len(self.wrong)} disagree", *self.wrong[:40]])


def _kind(about: str) -> str:
    return about.rsplit(": ", 1)[-1]


def told(value: object) -> str:
    return repr(float(value)) if isinstance(value, Fraction | float | int) else repr(value)


def difference(one: float | None, other: Any, least: float) -> float:
    """Relative difference; infinite where one of the two is no figure."""
    if one is None or other is None:
        return 0.0 if one is other else float("inf")
    size = max(abs(one), abs(float(other)), least)
    return abs(float(Fraction(one) - Fraction(other))) / size
