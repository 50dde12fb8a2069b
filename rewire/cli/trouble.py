"""What the user can mend: complaints with their places, and the exit status that says so."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

from rewire.cli.terminal import complain_of

BAD_ANSWER = 1
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

    def tell(self) -> None:
        """What is wrong on standard error, one line each."""
        for complaint in self.complaints:
            complain_of(str(complaint))


class Refused(Exception):
    """Something was not done, not even in part; says why and what to do."""

    def __init__(self, *complaints: Complaint) -> None:
        self.complaints = complaints
        super().__init__("\n".join(map(str, complaints)))


def refusal(message: str, file: str | None = None, hint: str | None = None) -> Refused:
    """A refusal of one thing."""
    return Refused(Complaint(message, file, hint=hint))


def worst_of(statuses: Iterable[int]) -> int:
    """One exit status for several inputs: bad input over a limit over a bad answer over good."""
    return max(statuses, key=(0, 1, LIMIT, BAD_INPUT).index, default=0)


def trouble_of(error: Exception, file: str | None = None) -> Trouble:
    """The trouble an exception stands for.

    Args:
        error: what was raised.
        file: the spec at work, for exceptions that do not name one.

    Raises:
        Exception: the same again, where it is a fault of the program, or nobody reads any more.
    """
    if isinstance(error, BrokenPipeError):
        raise error
    if isinstance(error, Refused):
        return Trouble(BAD_INPUT, error.complaints)
    if isinstance(error, OSError):
        reason = error.strerror or str(error) or type(error).__name__
        name = file if error.filename is None else str(error.filename)
        hint = "name a place in a folder of yours" if isinstance(error, PermissionError) else None
        return Trouble(BAD_INPUT, (Complaint(reason, name, hint=hint),))
    # Imported when something went wrong, not before: `rewire --help` needs neither.
    from rewire.circuit import LimitReached
    from rewire.reading import SpecError

    if isinstance(error, LimitReached):
        return Trouble(LIMIT, (Complaint(str(error), file),))
    if not isinstance(error, SpecError):
        raise error
    listed = [
        Complaint(fault.message, fault.place.file, fault.place.line, fault.place.column, fault.hint)
        for fault in error.faults
    ]
    if error.more:
        listed.append(Complaint(f"and {error.more} more", error.faults[0].place.file))
    return Trouble(BAD_INPUT, tuple(listed))
