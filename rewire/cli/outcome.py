"""What came of each spec, and how it is told aside and as JSON."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, Generic, TypeVar

from rewire.cli.terminal import complain, complain_of, write_out

if TYPE_CHECKING:
    from rewire.cli.trouble import Trouble
    from rewire.spec.model import Notice, Place

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
    say_notices(outcome.notices)
    if outcome.trouble is not None:
        complain(outcome.trouble)


def say_notices(notices: Iterable[Notice]) -> None:
    """What the reader took note of, on stderr; the same note of several places once."""
    places: dict[str, list[Place]] = {}
    for notice in notices:
        places.setdefault(notice.message, []).append(notice.place)
    for message, (first, *others) in places.items():
        also = ", ".join(f"{place.line}:{place.column}" for place in others)
        complain_of(f"{first}: note: {message}{f' (also at {also})' if also else ''}")


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
