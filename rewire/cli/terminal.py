"""Standard output and standard error: what is said there, how wide, in colour, with a bar."""

from __future__ import annotations

import io
import os
import shutil
import sys
from collections.abc import Callable, Iterable, Iterator
from contextlib import contextmanager
from typing import TYPE_CHECKING, TextIO, TypeVar

import click

from rewire.words.wording import printable

if TYPE_CHECKING:
    from rewire.report.section import ReportSection, Tone

T = TypeVar("T")
_COLOURS: dict[Tone, str] = {"bad": "red", "meant": "yellow", "good": "green"}
_NARROWEST, _WIDEST = 60, 100


def open_streams() -> None:
    r"""See that all three streams are there and fail on no character.

    A stream that the program was started without is empty: else the next file that is opened
    would take its number, and be written to. What an encoding lacks is written as ``\u…``.
    """
    for number, (name, mode) in enumerate((("stdin", "r"), ("stdout", "w"), ("stderr", "w"))):
        if getattr(sys, name) is None:
            nowhere = os.open(os.devnull, os.O_RDWR)
            if nowhere != number:
                os.dup2(nowhere, number)
                os.close(nowhere)
            setattr(sys, name, os.fdopen(number, mode, encoding="utf-8", closefd=False))
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
    """Sections on standard output, fitted to ``columns``: the terminal's where None."""
    from rewire.report.text import lines_of, uncoloured

    ink = _coloured if colours_on(sys.stdout) else uncoloured
    write_out("".join(f"{line}\n" for line in lines_of(sections, columns or width(), ink)))


def _coloured(text: str, tone: Tone) -> str:
    if tone == "plain":
        return text
    faint = tone == "faint"
    return click.style(text, fg=_COLOURS.get(tone), bold=not faint, dim=faint)


def write_out(text: str) -> None:
    """Text on standard output as it is, flushed.

    Raises:
        BrokenPipeError: nobody reads any more.
        OSError: it cannot be written (a full disk); the error names standard output.
    """
    try:
        sys.stdout.write(text)
        sys.stdout.flush()
    except BrokenPipeError:
        raise
    except OSError as error:
        hush_stdout()
        raise OSError(error.errno, error.strerror, "standard output") from error


def hush_stdout() -> None:
    """Drop what is still unwritten, so that Python does not complain of it again when it ends."""
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


def say(text: str) -> None:
    """Lines of a talk on standard error."""
    for line in text.split("\n"):
        complain_of(line)


@contextmanager
def progress(doing: str) -> Iterator[Callable[[int, int], None] | None]:
    """Gives what moves a bar on standard error; None where that is no terminal."""
    if not sys.stderr.isatty():
        yield None
        return
    from rich.console import Console
    from rich.progress import Progress

    with Progress(console=Console(file=sys.stderr), transient=True) as bar:
        task = bar.add_task(doing, visible=False)
        yield lambda done, of: bar.update(task, completed=done, total=of, visible=True)


def with_progress(doing: str, results: Iterable[T], count: int) -> Iterator[T]:
    """The same results, with a bar while they come."""
    if count == 1:
        yield from results
        return
    with progress(doing) as tell:
        for done, result in enumerate(results, 1):
            if tell is not None:
                tell(done, count)
            yield result
