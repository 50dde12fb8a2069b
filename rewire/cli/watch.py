"""``rewire watch``: the page in the browser, drawn anew at each save of the spec."""

from __future__ import annotations

import pickle
import subprocess
import sys
import time
import webbrowser
from collections.abc import Iterator
from contextlib import closing, suppress
from pathlib import Path
from threading import Thread

import click

from rewire.cli.board import NewsBoard, Piece, line_faults
from rewire.cli.options import flag_option
from rewire.cli.terminal import complain_of, write_out
from rewire.cli.trouble import refusal, trouble_of
from rewire.cli.watch_server import served
from rewire.reading import SpecError, read_text
from rewire.reading.text import bytes_of

_LOOK = 0.05
"""Seconds between two looks at the spec. A save is over when two find the same: an editor may
write in several goes."""


@click.command("watch")
@click.argument("spec", metavar="SPEC", type=click.Path(readable=False, path_type=Path))
@flag_option("--no-browser", "Open no browser; only say the address of the page.")
@click.pass_context
def watch_command(ctx: click.Context, spec: Path, no_browser: bool) -> None:
    """Show the page of SPEC in your browser, and draw it anew at each save.

    Verdict and faults come first, the pictures when they are drawn. While the spec has faults,
    they stand with their lines above the last good page. What you tick and type on the page
    stays while this runs: save the bench log before you end it. A click on a scanned page gives
    the at: of a note.

    The page is on this computer alone, at an address that cannot be guessed. Ctrl-C ends it.

    \b
    Exit status:
      0  it was ended with Ctrl-C
      2  SPEC is no file that can be read
    """
    if str(spec) == "-" or (spec.exists() and not spec.is_file()):
        raise refusal("only a file can be watched", str(spec), "name a file")
    bytes_of(spec, "the file")
    board = NewsBoard(spec.name)
    with (
        suppress(KeyboardInterrupt),
        served(board) as address,
        closing(_Drawing(board, spec)) as drawing,
    ):
        write_out(f"{address}\n")
        complain_of(f"{spec}: its page is at this address until you press Ctrl-C")
        if not no_browser:
            webbrowser.open(address)
        for source, told in saves(spec):
            drawing.show(source, told)
    ctx.exit(0)


def saves(spec: Path) -> Iterator[tuple[bytes, Piece]]:
    """The spec as it is, and again at each save; with its faults, where it has any."""
    shown: object = None
    while True:
        seen = _stamp(spec)
        time.sleep(_LOOK)
        if seen != shown and seen == _stamp(spec):
            shown = seen
            yield _read(spec)


def _stamp(spec: Path) -> tuple[int, ...]:
    """What differs after each save; empty where there is no such file."""
    try:
        status = spec.stat()
    except OSError:
        return ()
    return (status.st_dev, status.st_ino, status.st_size, status.st_mtime_ns)


def _read(spec: Path) -> tuple[bytes, Piece]:
    """Read here and not by the process that draws: faults are there at once, and it is saved."""
    source = b""
    try:
        source = bytes_of(spec, "the file")
        read_text(source, str(spec))
    except SpecError as error:
        return source, {"faults": line_faults(trouble_of(error), source), "sections": []}
    return source, {"faults": [], "sections": []}


class _Drawing:
    """Each save is drawn by a process that waits for it, and shown on the board."""

    def __init__(self, board: NewsBoard, spec: Path) -> None:
        self._board, self._file = board, str(spec)
        self._busy: subprocess.Popen[bytes] | None = None
        self._ready = _started()

    def show(self, source: bytes, told: Piece) -> None:
        """Show a save; what is still being drawn of the one before is dropped."""
        number = self._board.begin()
        _end(self._busy)
        if told["faults"]:
            self._board.take(number, told)
            return
        self._busy, self._ready = self._ready, _started()
        Thread(target=self._follow, args=(number, self._busy, source), daemon=True).start()

    def _follow(self, number: int, process: subprocess.Popen[bytes], source: bytes) -> None:
        assert process.stdin is not None
        assert process.stdout is not None
        with suppress(EOFError, OSError, pickle.UnpicklingError):  # it has ended, or was ended
            pickle.dump((source, self._file), process.stdin)
            process.stdin.flush()
            while True:
                self._board.take(number, pickle.load(process.stdout))
        self._board.end(number)

    def close(self) -> None:
        """End what runs."""
        _end(self._busy)
        _end(self._ready)


def _started() -> subprocess.Popen[bytes]:
    """A process that waits for a save; Ctrl-C is not for it, nothing here is imported."""
    return subprocess.Popen(
        [sys.executable, "-P", "-m", "rewire.cli.edition"],
        stdin=subprocess.PIPE,
        stdout=subprocess.PIPE,
        start_new_session=True,
        creationflags=getattr(subprocess, "CREATE_NEW_PROCESS_GROUP", 0),
    )


def _end(process: subprocess.Popen[bytes] | None) -> None:
    if process is not None:
        process.kill()
        process.wait()
