"""The answer for each spec, as text or JSON, and the exit status."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from contextlib import suppress
from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Generic, TypeVar

from rewire.cli.terminal import complain_of, with_progress, write_out, write_sections
from rewire.cli.trouble import LIMIT, Complaint, Refused, Trouble, refusal, trouble_of, worst_of
from rewire.words.wording import known_here, nearest, shown

if TYPE_CHECKING:
    from rewire.records.part import Place
    from rewire.records.spec import Notice, Role, Spec
    from rewire.report.machine import JSON, Keys
    from rewire.report.section import ReportSection

Answer = TypeVar("Answer")


@dataclass(frozen=True, slots=True)
class Judged:
    """Which wirings a command judges, and whose answer is its exit status."""

    names: tuple[str, ...] = ()
    """In the order shown: as asked for, else plans, what was found, what was tried."""
    counting: frozenset[str] = frozenset()
    """Those asked for by name, else the plans: what was found broken is no bad answer."""
    roles: Mapping[str, Role | None] = field(default_factory=dict)
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


def one_wiring(spec: Spec, names: Sequence[str], what: str) -> str:
    """The one wiring that ``what`` is about: the one named, or the only plan.

    Raises:
        Refused: it is not clear which, or there is none of that name.
    """
    own = wirings_judged(spec, names)
    if len(own.names) == 1:
        return own.names[0]
    if len(own.counting) != 1:
        raise refusal(what, spec.file, f"name one: --wiring {own.names[0]}")
    return next(iter(own.counting))


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
    judged: Judged = Judged()
    notices: tuple[Notice, ...] = ()
    trouble: Trouble | None = None
    limits: Mapping[str, str] = field(default_factory=dict)
    """Wirings that could not be answered for, and the limit that was reached."""


Answerer = Callable[[str], tuple[Answer, int]]
"""From the name of a wiring to what is answered for it, and the exit status that goes with it."""
Work = Callable[["Spec"], tuple[Judged, Answerer[Answer]]]
"""From a spec to the wirings a command answers for, and what answers."""


def answers_of(file: str, work: Work[Answer], spec: Spec | None = None) -> SpecAnswers[Answer]:
    """Read a spec, where it is not read yet, and answer for its wirings.

    What the user can mend comes back as trouble. A limit that is reached in one wiring does not
    keep the others away.
    """
    from rewire.circuit import LimitReached
    from rewire.reading import read_spec

    answers: dict[str, Answer] = {}
    limits: dict[str, LimitReached] = {}
    statuses: list[int] = []
    notices: tuple[Notice, ...] = ()
    try:
        spec = spec or read_spec(file)
        notices = spec.notices
        judged, answer = work(spec)
        for name in judged.names:
            try:
                answers[name], status = answer(name)
            except LimitReached as limit:
                limits[name], status = limit, LIMIT
            statuses += [status] if name in judged.counting else []
        if limits and not answers:
            raise next(iter(limits.values()))
    except Exception as error:  # noqa: BLE001  what is no trouble is raised again
        trouble = trouble_of(error, file)
        return SpecAnswers(file, trouble.status, notices=notices, trouble=trouble)
    said = {name: str(limit) for name, limit in limits.items()}
    return SpecAnswers(file, worst_of(statuses), answers, judged, notices, limits=said)


def said_aside(
    doing: str, found: Iterable[SpecAnswers[Answer]], count: int
) -> list[SpecAnswers[Answer]]:
    """Outcomes as they come, with a bar; notices of the reader, and trouble, go to stderr."""
    outcomes = list(with_progress(doing, found, count))
    for outcome in outcomes:
        say_notices(outcome.notices)
        if outcome.trouble is not None:
            outcome.trouble.tell()
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
) -> int:
    """What is ``told`` of each spec, under its file name if there are several; the exit status."""
    from rewire.report.section import ReportSection, Words

    sections: list[ReportSection] = []
    for outcome in outcomes:
        if len(outcomes) > 1 and outcome.trouble is None:
            sections.append(ReportSection("file", "", (Words(f"{outcome.file}:"),)))
        sections += told(outcome)
    write_sections(sections)
    return worst_of(outcome.status for outcome in outcomes)


def told_by(
    sections: Callable[[Answer], Iterable[ReportSection]],
) -> Callable[[SpecAnswers[Answer]], Iterator[ReportSection]]:
    """The answer for each wiring, in order."""
    return lambda outcome: (
        section for answer in outcome.answers.values() for section in sections(answer)
    )


def write_json(
    command: str, outcomes: Sequence[SpecAnswers[Answer]], result: Callable[[Answer], JSON]
) -> int:
    """One JSON document for each spec; the exit status."""
    from rewire.report.machine import document

    documents = []
    for outcome in outcomes:
        if outcome.trouble is not None:
            documents.append(refused(command, outcome.file, outcome.trouble))
            continue
        answers, roles = outcome.answers.items(), outcome.judged.roles
        results = [{**result(answer), "role": roles.get(name)} for name, answer in answers]
        limits = [f"{name}: {limit}" for name, limit in outcome.limits.items()]
        documents.append(document(command, limits, spec=outcome.file, results=results))
    write_documents(documents)
    return worst_of(outcome.status for outcome in outcomes)


def write_documents(documents: Sequence[JSON]) -> None:
    """One JSON document for one spec, an array for several."""
    from rewire.report.machine import dumped

    write_out(dumped(documents[0] if len(documents) == 1 else documents))


def refused(command: str, file: str, trouble: Trouble) -> JSON:
    """What is given where there is no answer."""
    from rewire.report.machine import as_json, document

    if trouble.status == LIMIT:
        limits = [complaint.message for complaint in trouble.complaints]
        return document(command, limits, spec=file)
    keys: Keys = {Complaint: "line column message hint"}
    return document(command, spec=file, errors=as_json(trouble.complaints, keys))


def write_files(
    command: str, files: Sequence[str], write: Callable[[str], tuple[int, JSON]], as_json: bool
) -> int:
    """Have a file, or several, written for each spec; the exit status of all.

    Args:
        command: that is at work.
        files: the specs.
        write: writes what is made of one; gives its exit status and its machine output.
        as_json: whether the machine output is printed.
    """

    def written(file: str) -> tuple[int, JSON]:
        try:
            return write(file)
        except Exception as error:  # noqa: BLE001  what is no trouble is raised again
            trouble = trouble_of(error, file)
            trouble.tell()
            return trouble.status, refused(command, file, trouble)

    made = list(with_progress("drawing", map(written, files), len(files)))
    if as_json:
        write_documents([told for _, told in made])
    return worst_of(status for status, _ in made)
