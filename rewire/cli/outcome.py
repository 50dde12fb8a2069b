"""What came of each spec, and how it is told aside and as JSON."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, Generic, TypeVar

from rewire.cli.terminal import complain, complain_of, write_out

if TYPE_CHECKING:
    from rewire.cli.trouble import Trouble
    from rewire.spec.model import Notice

Answer = TypeVar("Answer")


@dataclass(frozen=True)
class Outcome(Generic[Answer]):
    """What came of one spec: results, or the trouble that kept them away."""

    file: str
    results: tuple[Answer, ...] = ()
    notices: tuple[Notice, ...] = ()
    trouble: Trouble | None = None


def say_aside(outcome: Outcome[Answer]) -> None:
    """Notices of the reader, and trouble, on stderr."""
    for notice in outcome.notices:
        complain_of(f"{notice.place}: note: {notice.message}")
    if outcome.trouble is not None:
        complain(outcome.trouble)


def write_documents(
    command: str,
    outcomes: Sequence[Outcome[Answer]],
    document: Callable[[str, tuple[Answer, ...]], object],
) -> None:
    """One JSON document for one spec, an array for several."""
    from rewire.cli.as_json import dumped, refused

    documents = [
        document(outcome.file, outcome.results)
        if outcome.trouble is None
        else refused(command, outcome.file, outcome.trouble)
        for outcome in outcomes
    ]
    write_out(dumped(documents[0] if len(documents) == 1 else documents))
