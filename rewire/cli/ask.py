"""``rewire new --ask``: the interview at a terminal, or with answers from a file."""

from __future__ import annotations

import sys
from collections.abc import Sequence
from pathlib import Path

from rewire.bench.by_hand import spec_text
from rewire.bench.interview import Draft, Stage, stage_after
from rewire.bench.told import CAUTION, Question
from rewire.cli.files import write_whole
from rewire.cli.terminal import say
from rewire.cli.trouble import Complaint, Refused, refusal
from rewire.reading.text import bytes_of
from rewire.words.wording import Wrong, listed

_HEAD = (
    "Answer line by line; Enter alone takes what stands in [ ], or is the empty answer. '?' says "
    "more, 'back' takes the last answer back. Ctrl-C stops: your answers are kept, and the same "
    "command goes on."
)
_KEPT = "# Answers to rewire new --ask, one a line below its question; an empty line is one too.\n"


def kept_beside(file: Path) -> Path:
    """Where the answers to an interview are kept until its spec is written."""
    return file.with_name(f"{file.name}.answers")


def interviewed(file: Path, given: Path | None) -> tuple[str, Draft]:
    """The text of a spec made from answers, and what else was answered.

    Args:
        file: the spec to be; the answers are kept beside it.
        given: a file of answers to begin with; None for those that were kept.

    Raises:
        Refused: an answer of a file cannot be, or the answers end before the interview.
    """
    kept = kept_beside(file)
    if given is not None and kept.exists() and given.resolve() != kept.resolve():
        hint = "go on without --answers, or remove that file first"
        raise refusal("answers are kept there already", str(kept), hint)
    source = given or (kept if kept.exists() else None)
    answers = _from_file(source) if source is not None else []
    stage = stage_after(answers)
    if stage.question is not None:
        say(_HEAD)
        say(f"{len(answers)} answers taken over." if answers else f"Caution: {CAUTION}")
        try:
            stage = _talk(answers, kept)
        except KeyboardInterrupt:
            say(f"\n{kept}: answers kept; the same command goes on")
            raise
    return spec_text(stage.draft.block, file.name, stage.spec), stage.draft


def _from_file(file: Path) -> list[str]:
    """The answers of a file, each held against the interview."""
    answers: list[str] = []
    text = bytes_of(file, "the file of answers").decode("utf-8", "replace")
    for number, line in enumerate(text.splitlines(), 1):
        if line.startswith("#"):
            continue
        try:
            stage_after([*answers, _plain(line)])
        except Wrong as wrong:
            raise Refused(Complaint(wrong.message, str(file), number, hint=wrong.hint)) from None
        answers.append(line.strip())
    return answers


def _plain(line: str) -> str:
    answer = line.strip()
    if answer in ("?", "back"):
        raise Wrong(f"{answer!r} is for a talk at the terminal", "take this line out")
    if not answer.isprintable() or answer.startswith("#"):
        raise Wrong("that cannot stand in an answer", "write letters and figures, no # first")
    return answer


def _talk(answers: list[str], kept: Path) -> Stage:
    """Ask until every question is answered; each answer is kept as it comes."""
    said: set[str] = set()
    stage = stage_after(answers)
    while stage.question is not None:
        for notice in stage.spec.notices:
            if notice.message not in said:
                said.add(notice.message)
                say(f"  note: {notice.message}")
        line = _line(stage.question)
        if line == "?":
            say(f"  {_helped(stage.question)}")
            continue
        if line == "back":
            answers[-1:] = []
            stage = stage_after(answers)
        else:
            stage = _after(answers, line, stage)
        _keep(kept, stage, answers)
    return stage


def _keep(kept: Path, stage: Stage, answers: Sequence[str]) -> None:
    pairs = zip(stage.asked, answers, strict=True)
    text = _KEPT + "".join(f"# {asks}\n{answer}\n" for asks, answer in pairs)
    write_whole(kept, text.encode(), force=True)


def _after(answers: list[str], line: str, before: Stage) -> Stage:
    """Where the interview stands after a line; where it stood, if that cannot be an answer.

    Raises:
        Refused: it cannot be, and nobody is there to be asked again.
    """
    try:
        stage = stage_after([*answers, _plain(line)])
    except Wrong as wrong:
        if not sys.stdin.isatty():
            said = f"answer {len(answers) + 1}: {wrong.message}"
            raise refusal(said, "standard input", wrong.hint) from None
        say(f"  {Complaint(wrong.message, hint=wrong.hint)}")
        return before
    answers.append(line.strip())
    return stage


def _helped(question: Question) -> str:
    words = f"Known here: {listed(question.known, 40)}." if question.known else ""
    usual = f"Enter alone: {question.default}." if question.default else ""
    said = " ".join(one for one in (question.help, words, usual) if one)
    return (
        said
        or "Write it as the example in brackets shows, or an empty line where the question says so."
    )


def _line(question: Question) -> str:
    """One line that was typed."""
    if question.caution:
        say(f"\nCaution: {question.caution}")
    usual = f" [{question.default}]" if question.default else ""
    say(f"\n{question.asks}{usual}")
    if not sys.stdin.isatty():
        line = sys.stdin.readline()
        if line:
            return line.strip()
    else:
        _complete(question.known)
        try:
            return input("> ").strip()
        except EOFError:
            say("")
    hint = "your answers are kept; the same command goes on"
    raise refusal(f"not written: no answer to: {question.asks}", hint=hint)


def _complete(known: Sequence[str]) -> None:
    """Let the tab key complete these words, where the system can."""
    if sys.platform == "win32":  # there is no readline; the words are typed whole then
        return
    import readline

    def fitting(begun: str, number: int) -> str | None:
        found = [one for one in known if one.lower().startswith(begun.lower())]
        return found[number] if number < len(found) else None

    readline.set_completer_delims(" ,")
    readline.set_completer(fitting)
    readline.parse_and_bind("tab: complete")
