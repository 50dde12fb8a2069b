"""What came of each spec, and how it is told aside and as JSON."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Generic, TypeVar

from rewire.cli.terminal import complain, complain_of, write_out
from rewire.cli.trouble import LIMIT, worst_of

if TYPE_CHECKING:
    from rewire.cli.as_json import JSON
    from rewire.cli.trouble import Trouble
    from rewire.cli.wirings import Judged
    from rewire.records.spec import Notice, Place

Answer = TypeVar("Answer")


@dataclass(frozen=True)
class Outcome(Generic[Answer]):
    """What came of one spec: results, or the trouble that kept them away."""

    file: str
    results: tuple[Answer, ...] = ()
    notices: tuple[Notice, ...] = ()
    trouble: Trouble | None = None
    judged: Judged | None = None
    limits: Mapping[str, str] = field(default_factory=dict)
    """Wirings that could not be answered for, and the limit that was reached."""

    def worst(self, statuses: Iterable[tuple[str, int]]) -> int:
        """The exit status, from that of each wiring that was answered for."""
        if self.trouble is not None or self.judged is None:
            return 0 if self.trouble is None else self.trouble.status
        every = (*statuses, *((name, LIMIT) for name in self.limits))
        return worst_of(status for name, status in every if name in self.judged.counting)


def one_by_one(
    names: Iterable[str], answer: Callable[[str], Answer]
) -> tuple[tuple[Answer, ...], dict[str, str]]:
    """The answers for some wirings; a limit reached in one does not keep the others away.

    Raises:
        LimitReached: it kept every answer away.
    """
    # Loaded when something is answered, for `rewire --help` does without.
    from rewire.circuit import LimitReached

    answers: list[Answer] = []
    limits: dict[str, LimitReached] = {}
    for name in names:
        try:
            answers.append(answer(name))
        except LimitReached as limit:
            limits[name] = limit
    if limits and not answers:
        raise next(iter(limits.values()))
    return tuple(answers), {name: str(limit) for name, limit in limits.items()}


def say_aside(outcome: Outcome[Answer]) -> None:
    """Notices of the reader, and trouble, on stderr."""
    say_notices(outcome.notices)
    if outcome.trouble is not None:
        complain(outcome.trouble)
    for name, limit in outcome.limits.items():
        complain_of(f"{outcome.file}: {name} left out: {limit}")


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
    document: Callable[[str, tuple[Answer, ...]], JSON],
) -> None:
    """One JSON document for one spec, an array for several."""
    from rewire.cli.as_json import dumped, refused

    documents = [
        _answered(document(outcome.file, outcome.results), outcome)
        if outcome.trouble is None
        else refused(command, outcome.file, outcome.trouble)
        for outcome in outcomes
    ]
    write_out(dumped(documents[0] if len(documents) == 1 else documents))


def _answered(document: JSON, outcome: Outcome[Answer]) -> JSON:
    """An answer with the role of each wiring in it, and with the limits that were reached."""
    roles = outcome.judged.roles if outcome.judged is not None else {}
    for result in document["results"]:
        result["role"] = roles.get(result.get("wiring", result.get("to")))
    if outcome.limits:
        document["limit"] = "; ".join(f"{name}: {limit}" for name, limit in outcome.limits.items())
    return document
