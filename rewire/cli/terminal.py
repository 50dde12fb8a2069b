"""The terminal: its streams, its width and colours, and a bar while something is worked out."""

from __future__ import annotations

import io
import os
import shutil
import sys
from typing import TYPE_CHECKING, TextIO, TypeVar

import click

from rewire.words.wording import printable

if TYPE_CHECKING:
    from collections.abc import Iterable, Iterator

    from rewire.report.section import ReportSection, Tone

T = TypeVar("T")

_COLOURS: dict[Tone, str] = {"bad": "red", "meant": "yellow", "good": "green"}
_NARROWEST, _WIDEST = 60, 100


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
