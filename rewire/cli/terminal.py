"""Text for a terminal: nothing invisible in it, colour only where it is seen, lines that fit."""

from __future__ import annotations

import io
import os
import re
import shutil
import sys
import textwrap
import unicodedata
from dataclasses import dataclass
from typing import TYPE_CHECKING, Literal, TextIO, TypeVar

import click

if TYPE_CHECKING:
    from collections.abc import Iterable, Iterator

    from rewire.cli.trouble import Trouble

T = TypeVar("T")
Mark = Literal["bad", "meant", "good", "faint", "plain"]

_COLOURS: dict[Mark, str] = {"bad": "red", "meant": "yellow", "good": "green"}
_BLANKS = re.compile(r"[ \t\r\n]+")
_BEFORE_UNIT = re.compile(r"(?<=[0-9]) (?=(?:%|°C|[nµmkMG]?[ΩVAW])(?![A-Za-z0-9]))")
"""The blank between a number and its unit, where no line may end."""
_GLUE = "\ufdd0"
"""A character that no text has, for Unicode keeps it free."""
_NARROWEST, _WIDEST = 60, 100
_UNSEEN = frozenset({"Cc", "Cf", "Cs", "Zl", "Zp"})
"""Unicode categories: control, format (bidi among them), surrogates, line and paragraph ends."""


class ReaderGone(Exception):
    """Whoever read our output has stopped reading."""


@dataclass(frozen=True, slots=True)
class Line:
    """One line of a report before it is fitted to a width; ``label`` opens it, in colour."""

    text: str
    indent: int = 0
    label: str = ""
    mark: Mark = "plain"


def visible(text: str) -> str:
    r"""Text with what moves a cursor, or hides and turns other text round, written out.

    >>> visible("S1\x1b[2J\u202eA2")
    'S1\\x1b[2J\\u202eA2'
    """
    if text.isprintable():
        return text
    return "".join(_written_out(c) if unicodedata.category(c) in _UNSEEN else c for c in text)


def _written_out(character: str) -> str:
    return character.encode("unicode_escape").decode("ascii")


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


def fitted(line: Line, columns: int) -> list[str]:
    """A report's line as printed lines of at most ``columns``; only a name is ever longer.

    Continued lines hang under the text, past the label.
    """
    label, text = visible(line.label), visible(" ".join(_BLANKS.split(line.text)))
    lead = " " * line.indent + (f"{label} " if label and text else label)
    if not text:
        return [lead]
    lines = textwrap.wrap(
        _BEFORE_UNIT.sub(_GLUE, text),
        columns,
        initial_indent=lead,
        subsequent_indent=" " * min(len(lead), columns // 3),
        break_long_words=False,
        break_on_hyphens=False,
    )
    return [line.replace(_GLUE, " ") for line in lines]


def write_report(lines: Iterable[Line], columns: int | None = None) -> None:
    """A report on standard output, fitted to ``columns``: the terminal's where None.

    Raises:
        ReaderGone: nobody reads any more.
    """
    wide, colours = columns or width(), colours_on(sys.stdout)
    printed = (part for line in lines for part in _inked(line, wide, colours))
    write_out("".join(f"{part}\n" for part in printed))


def _inked(line: Line, columns: int, colours: bool) -> list[str]:
    parts = fitted(line, columns)
    if not colours or line.mark == "plain":
        return parts
    if not line.label:
        return [_coloured(part, line.mark) for part in parts]
    first, end = parts[0], line.indent + len(visible(line.label))
    return [_coloured(first[:end], line.mark) + first[end:], *parts[1:]]


def _coloured(text: str, mark: Mark) -> str:
    faint = mark == "faint"
    return click.style(text, fg=_COLOURS.get(mark), bold=not faint, dim=faint)


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


def complain(trouble: Trouble) -> None:
    """What is wrong on standard error, one line each."""
    for complaint in trouble.complaints:
        complain_of(str(complaint))


def complain_of(message: str) -> None:
    """One line on standard error."""
    click.echo(visible(message), err=True)


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
