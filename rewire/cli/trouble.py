"""What can go wrong that is not the program's fault, as messages and an exit status."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from rewire.reading import SpecError

BAD_INPUT = 2
LIMIT = 3


@dataclass(frozen=True, slots=True)
class Complaint:
    """One thing that is wrong. ``line`` and ``column`` count from 1, where there are any."""

    message: str
    file: str | None = None
    line: int | None = None
    column: int | None = None
    hint: str | None = None

    def __str__(self) -> str:
        place = ":".join(str(p) for p in (self.file, self.line, self.column) if p is not None)
        tail = f"; {self.hint}" if self.hint else ""
        return f"{place}: {self.message}{tail}" if place else f"{self.message}{tail}"


@dataclass(frozen=True, slots=True)
class Trouble:
    """Everything wrong with one input, and the exit status that says so."""

    status: int
    complaints: tuple[Complaint, ...]


class Refused(Exception):
    """Something asked for is not done, and nothing of it was; says why and what to do."""

    def __init__(self, *complaints: Complaint) -> None:
        self.complaints = complaints
        super().__init__("\n".join(str(complaint) for complaint in complaints))


def worst_of(statuses: Iterable[int]) -> int:
    """One exit status for several inputs: bad input over a limit over a bad answer over good."""
    return max(statuses, key=(0, 1, LIMIT, BAD_INPUT).index, default=0)


def trouble_of(error: Exception, file: str | None = None) -> Trouble | None:
    """The trouble an exception stands for; None if it is a fault of the program itself.

    ``file`` is the spec at work, for exceptions that do not name one.
    """
    if isinstance(error, Refused):
        return Trouble(BAD_INPUT, error.complaints)
    if isinstance(error, OSError):
        reason = error.strerror or str(error) or type(error).__name__
        name = file if error.filename is None else str(error.filename)
        return Trouble(BAD_INPUT, (Complaint(reason, name),))
    return _trouble_of_layers(error, file)


def _trouble_of_layers(error: Exception, file: str | None) -> Trouble | None:
    # Imported when something went wrong, not before: `rewire --help` needs neither.
    from rewire.circuit import LimitReached
    from rewire.reading import SpecError

    if isinstance(error, SpecError):
        return Trouble(BAD_INPUT, _complaints(error))
    if isinstance(error, LimitReached):
        return Trouble(LIMIT, (Complaint(str(error), file),))
    return None


def _complaints(error: SpecError) -> tuple[Complaint, ...]:
    listed = tuple(
        Complaint(fault.message, fault.place.file, fault.place.line, fault.place.column, fault.hint)
        for fault in error.faults
    )
    if not error.more:
        return listed
    return (*listed, Complaint(f"and {error.more} more", error.faults[0].place.file))
