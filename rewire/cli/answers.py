"""What came of each spec, how it is told on a terminal or to machines, and the exit status."""

from __future__ import annotations

import io
import os
import shutil
import sys
from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from contextlib import suppress
from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Generic, TextIO, TypeVar

import click

from rewire.words.wording import known_here, nearest, printable, shown

if TYPE_CHECKING:
    from rewire.reading import SpecError
    from rewire.records.part import Place
    from rewire.records.spec import Notice, Role, Spec
    from rewire.report.machine import JSON, Keys
    from rewire.report.section import ReportSection, Tone

BAD_ANSWER = 1
BAD_INPUT = 2
LIMIT = 3
Answer = TypeVar("Answer")
T = TypeVar("T")
_COLOURS: dict[Tone, str] = {"bad": "red", "meant": "yellow", "good": "green"}
_NARROWEST, _WIDEST = 60, 100


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


def trouble_of(error: Exception, file: str | None = None) -> Trouble:
    """The trouble an exception stands for.

    Args:
        error: what was raised.
        file: the spec at work, for exceptions that do not name one.

    Raises:
        Exception: the same again, where it is a fault of the program itself.
    """
    if isinstance(error, Refused):
        return Trouble(BAD_INPUT, error.complaints)
    if isinstance(error, OSError):
        reason = error.strerror or str(error) or type(error).__name__
        name = file if error.filename is None else str(error.filename)
        return Trouble(BAD_INPUT, (Complaint(reason, name),))
    # Imported when something went wrong, not before: `rewire --help` needs neither.
    from rewire.circuit import LimitReached
    from rewire.reading import SpecError

    if isinstance(error, SpecError):
        return Trouble(BAD_INPUT, _faults_of(error))
    if isinstance(error, LimitReached):
        return Trouble(LIMIT, (Complaint(str(error), file),))
    raise error


def _faults_of(error: SpecError) -> tuple[Complaint, ...]:
    listed = tuple(
        Complaint(fault.message, fault.place.file, fault.place.line, fault.place.column, fault.hint)
        for fault in error.faults
    )
    if not error.more:
        return listed
    return (*listed, Complaint(f"and {error.more} more", error.faults[0].place.file))


def complain(trouble: Trouble) -> None:
    """What is wrong on standard error, one line each."""
    for complaint in trouble.complaints:
        complain_of(str(complaint))


@dataclass(frozen=True, slots=True)
class Judged:
    """Which wirings a command judges, and whose answer is its exit status."""

    names: tuple[str, ...]
    """In the order told: as asked for, else the plans, what was found, what was tried."""
    counting: frozenset[str]
    """Those asked for by name, else the plans: what was found broken is no bad answer."""
    roles: Mapping[str, Role | None]
    """Of every wiring of the spec."""


def wirings_judged(spec: Spec, names: Sequence[str]) -> Judged:
    """The wirings named, the original if it is among them, or every one but it if none is.

    An original that stands alone is judged itself: it may break a rule of the spec.

    Raises:
        Refused: a name that is no wiring of the spec.
    """
    known_names("wiring", names, spec.wirings, spec.file)
    told = tuple(dict.fromkeys(names or [wiring.name for wiring in spec.others] or spec.wirings))
    roles = {name: wiring.role for name, wiring in spec.wirings.items()}
    plans = frozenset(name for name in told if roles[name] in ("plan", None))
    return Judged(told, frozenset(names) or plans, roles)


def known_names(what: str, names: Iterable[str], known: Iterable[str], file: str) -> None:
    """See that the spec has all that was named on the command line.

    Raises:
        Refused: it lacks some; all of them at once, each with the nearest name that it has.
    """
    there = list(dict.fromkeys(known))
    strangers = [name for name in dict.fromkeys(names) if name not in there]
    if strangers:
        raise Refused(*(_stranger(what, name, there, file) for name in strangers))


def _stranger(what: str, name: str, there: Sequence[str], file: str) -> Complaint:
    close = nearest(name, there)
    hint = f"nearest is {shown(close)}" if close else known_here(there)
    message = f"no {what} is called {shown(name)}"
    return Complaint(message, file, hint=hint if there else f"the spec has no {what}")


def is_broken(spec: Spec, name: str) -> bool:
    """Whether a wiring does not keep what the original does, as far as that is settled.

    A broken rule alone is no such thing while a value has still to be found: it counts as no
    ohms here, and `rewire values` judges the rule with the value that it finds.
    """
    from rewire.circuit import LimitReached
    from rewire.compare import compare
    from rewire.compare.findings import INFORMATION

    if name == "original":
        return False
    with suppress(LimitReached):  # `rewire check` names the limit
        (result,) = compare(spec, [name])
        parts = spec.parts_of(spec.wirings[name]).values()
        is_open = any(getattr(part, "fit_for", None) for part in parts)
        bad = {f.kind for f in result.findings if not f.meant and f.kind not in INFORMATION}
        return result.verdict == "broken" and not (is_open and bad == {"rule"})
    return False


@dataclass(frozen=True)
class SpecAnswers(Generic[Answer]):
    """What came of one spec: an answer for each wiring, or the trouble that kept them away."""

    file: str
    status: int
    answers: Mapping[str, Answer] = field(default_factory=dict)
    """Wiring → what is answered for it."""
    judged: Judged | None = None
    notices: tuple[Notice, ...] = ()
    trouble: Trouble | None = None
    limits: Mapping[str, str] = field(default_factory=dict)
    """Wirings that could not be answered for, and the limit that was reached."""

    def role(self, wiring: str) -> Role | None:
        """What a wiring is for."""
        return None if self.judged is None else self.judged.roles.get(wiring)

    def counts(self, wiring: str) -> bool:
        """Whether a wiring is a plan, or was asked for by name."""
        return self.judged is None or wiring in self.judged.counting


Answerer = Callable[[str], tuple[Answer, int]]
"""From the name of a wiring to what is answered for it, and the exit status that goes with it."""
Work = Callable[["Spec"], tuple[Judged, Answerer[Answer]]]
"""From a spec to the wirings a command answers for, and what answers."""


def answers_of(file: str, work: Work[Answer]) -> SpecAnswers[Answer]:
    """Read a spec and answer for its wirings; what the user can mend comes back as trouble."""
    from rewire.reading import read_spec

    return answers_about(file, lambda: read_spec(file), work)


def answers_about(file: str, read: Callable[[], Spec], work: Work[Answer]) -> SpecAnswers[Answer]:
    """The same, of a spec that ``read`` gives."""
    notices: tuple[Notice, ...] = ()
    try:
        spec = read()
        notices = spec.notices
        asked, answer = work(spec)
        answers, limits = _one_by_one(asked.names, answer)
    except Exception as error:  # noqa: BLE001  what is no trouble is raised again
        trouble = trouble_of(error, file)
        return SpecAnswers(file, trouble.status, notices=notices, trouble=trouble)
    statuses = {name: status for name, (_, status) in answers.items()}
    statuses |= dict.fromkeys(limits, LIMIT)
    return SpecAnswers(
        file, worst_of(status for name, status in statuses.items() if name in asked.counting),
        {name: answer for name, (answer, _) in answers.items()}, asked, notices, limits=limits,
    )  # fmt: skip


def _one_by_one(
    names: Iterable[str], answer: Callable[[str], Answer]
) -> tuple[dict[str, Answer], dict[str, str]]:
    """The answers for some wirings; a limit reached in one does not keep the others away.

    Raises:
        LimitReached: it kept every answer away.
    """
    from rewire.circuit import LimitReached

    answers: dict[str, Answer] = {}
    limits: dict[str, LimitReached] = {}
    for name in names:
        try:
            answers[name] = answer(name)
        except LimitReached as limit:
            limits[name] = limit
    if limits and not answers:
        raise next(iter(limits.values()))
    return answers, {name: str(limit) for name, limit in limits.items()}


def said_aside(
    doing: str, found: Iterable[SpecAnswers[Answer]], count: int
) -> list[SpecAnswers[Answer]]:
    """Outcomes as they come, with a bar; notices of the reader, and trouble, go to stderr."""
    outcomes = list(with_progress(doing, found, count))
    for outcome in outcomes:
        say_notices(outcome.notices)
        if outcome.trouble is not None:
            complain(outcome.trouble)
        for name, limit in outcome.limits.items():
            complain_of(f"{outcome.file}: {name} left out: {limit}")
    return outcomes


def say_notices(notices: Iterable[Notice]) -> None:
    """What the reader took note of, on stderr; the same note of several places once."""
    places: dict[str, list[Place]] = {}
    for notice in notices:
        places.setdefault(notice.message, []).append(notice.place)
    for message, (first, *others) in places.items():
        also = ", ".join(f"{place.line}:{place.column}" for place in others)
        complain_of(f"{first}: note: {message}{f' (also at {also})' if also else ''}")


def write_text(
    outcomes: Sequence[SpecAnswers[Answer]],
    told: Callable[[SpecAnswers[Answer]], Iterable[ReportSection]],
) -> None:
    """What is ``told`` of each spec that was answered for, under its file where there are more."""
    from rewire.report.section import ReportSection, Words

    sections: list[ReportSection] = []
    for outcome in outcomes:
        if len(outcomes) > 1 and outcome.trouble is None:
            sections.append(ReportSection("file", "", (Words(f"{outcome.file}:"),)))
        sections += told(outcome)
    write_sections(sections)


def write_json(
    command: str, outcomes: Sequence[SpecAnswers[Answer]], result: Callable[[Answer], JSON]
) -> None:
    """One JSON document for each spec."""
    from rewire.report.machine import document

    documents = []
    for outcome in outcomes:
        if outcome.trouble is not None:
            documents.append(refused(command, outcome.file, outcome.trouble))
            continue
        answers = outcome.answers.items()
        results = [{**result(answer), "role": outcome.role(name)} for name, answer in answers]
        limits = [f"{name}: {limit}" for name, limit in outcome.limits.items()]
        documents.append(document(command, limits, spec=outcome.file, results=results))
    write_documents(documents)


def write_documents(documents: Sequence[JSON]) -> None:
    """One JSON document for one spec, an array for several."""
    from rewire.report.machine import dumped

    write_out(dumped(documents[0] if len(documents) == 1 else documents))


def refused(command: str, file: str, trouble: Trouble) -> JSON:
    """What stands in the place of an answer where there is none."""
    from rewire.report.machine import as_json, document

    if trouble.status == LIMIT:
        limits = [complaint.message for complaint in trouble.complaints]
        return document(command, limits, spec=file)
    keys: Keys = {Complaint: "line column message hint"}
    return document(command, spec=file, errors=as_json(trouble.complaints, keys))


def write_files(
    command: str, files: Sequence[str], write: Callable[[str], tuple[int, JSON]]
) -> tuple[int, list[JSON]]:
    """Have a file, or several, written for each spec.

    Args:
        command: that is at work.
        files: the specs.
        write: writes what is made of one; gives its exit status and its machine output.

    Returns:
        The exit status of all, and the machine output of each.
    """

    def written(file: str) -> tuple[int, JSON]:
        try:
            return write(file)
        except Exception as error:  # noqa: BLE001  what is no trouble is raised again
            trouble = trouble_of(error, file)
            complain(trouble)
            return trouble.status, refused(command, file, trouble)

    made = list(with_progress("drawing", map(written, files), len(files)))
    return worst_of(status for status, _ in made), [told for _, told in made]


class ReaderGone(Exception):
    """Whoever read our output has stopped reading."""


def open_streams() -> None:
    """Give a program that was started without one of its streams an empty one in its place.

    Else the next file that is opened would take the stream's number, and be written to.
    """
    for number, (name, mode) in enumerate((("stdin", "r"), ("stdout", "w"), ("stderr", "w"))):
        if getattr(sys, name) is not None:
            continue
        nowhere = os.open(os.devnull, os.O_RDWR)
        if nowhere != number:
            os.dup2(nowhere, number)
            os.close(nowhere)
        setattr(sys, name, os.fdopen(number, mode, encoding="utf-8", closefd=False))


def careful_streams() -> None:
    r"""Write what the terminal's encoding lacks as ``\u…`` instead of failing on it."""
    for stream in (sys.stdout, sys.stderr):
        if isinstance(stream, io.TextIOWrapper):
            stream.reconfigure(errors="backslashreplace")


def colours_on(stream: TextIO) -> bool:
    """Whether colour will be seen: on a terminal, unless ``NO_COLOR`` is set or it is dumb."""
    if os.environ.get("NO_COLOR") or os.environ.get("TERM") == "dumb":
        return False
    return stream.isatty()


def width() -> int:
    """Columns to write in: the terminal's, from 60 to 100; 80 where there is none."""
    return min(max(shutil.get_terminal_size().columns, _NARROWEST), _WIDEST)


def write_sections(sections: Iterable[ReportSection], columns: int | None = None) -> None:
    """Sections on standard output, fitted to ``columns``: the terminal's where None.

    Raises:
        ReaderGone: nobody reads any more.
    """
    from rewire.report.text import lines_of, uncoloured

    ink = _coloured if colours_on(sys.stdout) else uncoloured
    write_out("".join(f"{line}\n" for line in lines_of(sections, columns or width(), ink)))


def _coloured(text: str, tone: Tone) -> str:
    if tone == "plain":
        return text
    faint = tone == "faint"
    return click.style(text, fg=_COLOURS.get(tone), bold=not faint, dim=faint)


def write_out(text: str) -> None:
    """Text on standard output as it is, out of the door before this returns.

    Raises:
        ReaderGone: nobody reads any more.
        OSError: it cannot be written (a full disk); the error names standard output.
    """
    try:
        sys.stdout.write(text)
        sys.stdout.flush()
    except BrokenPipeError as error:
        raise ReaderGone from error
    except OSError as error:
        hush_stdout()
        raise OSError(error.errno, error.strerror, "standard output") from error


def hush_stdout() -> None:
    """Send what is still unwritten nowhere, or Python would complain of it once more at its end."""
    try:
        descriptor = sys.stdout.fileno()
    except io.UnsupportedOperation:  # not a real stream: nothing is flushed at the end
        return
    nowhere = os.open(os.devnull, os.O_WRONLY)
    os.dup2(nowhere, descriptor)
    os.close(nowhere)


def complain_of(message: str) -> None:
    """One line on standard error."""
    click.echo(printable(message), err=True)


def progress_on() -> bool:
    """Whether a bar on standard error is seen by anybody."""
    return sys.stderr.isatty()


def with_progress(doing: str, results: Iterable[T], count: int) -> Iterator[T]:
    """The same results, with a bar on standard error while they come, if it is a terminal."""
    if count == 1 or not progress_on():
        yield from results
        return
    from rich.console import Console
    from rich.progress import track

    console = Console(file=sys.stderr)
    yield from track(results, doing, total=count, transient=True, console=console)
