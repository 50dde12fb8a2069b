"""``rewire watch``: the page in the browser, drawn anew at each save of the spec."""

from __future__ import annotations

import os
import signal
import sys
import webbrowser
from collections.abc import Collection, Iterator
from contextlib import contextmanager, suppress
from itertools import chain
from multiprocessing import get_context
from multiprocessing.context import SpawnProcess
from pathlib import Path
from threading import Thread

import click
from watchfiles import watch

from rewire.cli import HELP
from rewire.cli.answers import Complaint, Refused, complain_of, trouble_of, write_out
from rewire.cli.board import NewsBoard, SaveTold, faults_of
from rewire.cli.watch_server import served
from rewire.reading import SpecError, read_text
from rewire.reading.text import bytes_of

if sys.platform == "win32":
    from multiprocessing.connection import PipeConnection as Pipe
else:
    from multiprocessing.connection import Connection as Pipe

_QUIET, _GATHERED = 50, 400
"""Milliseconds without a change after which a save is over; and after which it is looked at
though changes go on: an editor writes in several goes, and its own files beside the spec."""
_LOOK = 1000
"""Milliseconds after which the spec is looked at though the system reported nothing."""


@click.command(name="watch", short_help=HELP["watch"])
@click.argument("spec", metavar="SPEC", type=click.Path(path_type=Path))
@click.option(
    "--no-browser", is_flag=True, help="Open no browser; only say the address of the page."
)
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
        raise Refused(Complaint("only a file can be watched", str(spec), hint="name a file"))
    bytes_of(spec, "the file")
    board = NewsBoard()
    with suppress(KeyboardInterrupt), served(board, spec.name) as address:
        write_out(f"{address}\n")
        complain_of(f"{spec}: its page is at this address until you press Ctrl-C")
        if not no_browser:
            webbrowser.open(address)
        desk = _Desk(board, spec)
        for source, told in saves(spec):
            desk.show(source, told)
    ctx.exit(0)


def saves(spec: Path) -> Iterator[tuple[bytes, SaveTold]]:
    """The spec as it is, and again at each save; with its faults, where it has any."""
    seen: object = None
    folders = {place.parent for place in (spec.absolute(), spec.resolve())}
    for _ in chain([None], _changes(folders)):
        stamp = _stamp(spec)
        if stamp != seen:
            seen = stamp
            yield _held(spec)


def _changes(folders: Collection[Path], poll: bool | None = None) -> Iterator[object]:
    """One for each change in the folders, and at least one a second.

    Args:
        folders: without those in them.
        poll: look at them again and again; None to leave it to the system where it can.
    """
    try:
        yield from watch(
            *folders,
            watch_filter=None,
            debounce=_GATHERED,
            step=_QUIET,
            recursive=False,
            rust_timeout=_LOOK,
            yield_on_timeout=True,
            force_polling=poll,
        )
    except (OSError, RuntimeError):  # the system has no more to give to so many programs
        if poll:
            raise
        yield from _changes(folders, poll=True)


def _stamp(spec: Path) -> tuple[int, ...]:
    """What differs after each save; empty where there is no such file."""
    try:
        status = spec.stat()
    except OSError:
        return ()
    return (status.st_dev, status.st_ino, status.st_size, status.st_mtime_ns)


def _held(spec: Path) -> tuple[bytes, SaveTold]:
    """Read here and not by the process that draws: faults are there at once, and it is saved."""
    source = b""
    try:
        source = bytes_of(spec, "the file")
        read_text(source, str(spec))
    except SpecError as error:
        return source, SaveTold(faults_of(trouble_of(error), source))
    return source, SaveTold()


class _Desk:
    """Has each save drawn, by a process that is ready for it, and shown on the board."""

    def __init__(self, board: NewsBoard, spec: Path) -> None:
        os.environ.setdefault("PYTHONSAFEPATH", "1")  # processes import nothing from this folder
        self._board, self._file = board, str(spec)
        self._busy: SpawnProcess | None = None
        self._ready = _ready()

    def show(self, source: bytes, told: SaveTold) -> None:
        """Show a save; what is still being drawn of the one before is dropped."""
        number = self._board.begin()
        if self._busy is not None:
            self._busy.kill()
            self._busy.join()
        if told.faults:
            self._board.take(number, told)
            return
        (self._busy, pipe), self._ready = self._ready, _ready()
        Thread(target=self._follow, args=(number, pipe, source), daemon=True).start()

    def _follow(self, number: int, pipe: Pipe, source: bytes) -> None:
        with suppress(EOFError, OSError), pipe:  # it has ended, or was ended
            pipe.send((source, self._file))
            while True:
                self._board.take(number, pipe.recv())
        self._board.end(number)


def _ready() -> tuple[SpawnProcess, Pipe]:
    """A process that waits for a save; started anew, for a copy would hold the server's sockets."""
    context = get_context("spawn")
    here, there = context.Pipe()
    process = context.Process(target=serve_one, args=(there,), daemon=True)
    with _ctrl_c_waits():  # the new process finds it held back until it ignores it
        process.start()
    there.close()
    return process, here


@contextmanager
def _ctrl_c_waits() -> Iterator[None]:
    """Ctrl-C is heeded at the end of the block, not lost in it."""
    if sys.platform == "win32":
        yield
        return
    signal.pthread_sigmask(signal.SIG_BLOCK, {signal.SIGINT})
    try:
        yield
    finally:
        signal.pthread_sigmask(signal.SIG_UNBLOCK, {signal.SIGINT})


def serve_one(asked: Pipe) -> None:
    """Wait for one save with everything imported, send what is shown of it piece by piece, end.

    Ends as well when nobody is at the other end any more.
    """
    signal.signal(signal.SIGINT, signal.SIG_IGN)  # Ctrl-C is for the program that started this
    from rewire.cli.edition import edition

    with suppress(EOFError, ConnectionError):
        for piece in edition(*asked.recv()):
            asked.send(piece)
