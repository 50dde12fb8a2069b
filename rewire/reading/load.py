"""From a file to the tree of its text: the same for specs, drawers, buzz-outs and bench logs."""

from __future__ import annotations

import errno
import os
import select
import stat
import sys
from pathlib import Path

from rewire.reading.faults import Fault, Report, SpecError
from rewire.reading.text import LARGEST_BYTES, Mapping, Scalar, Unreadable, parse, torn_in
from rewire.records.spec import Place

_PATIENCE = 10.0


def bytes_of(path: str | Path, what: str) -> bytes:
    """The bytes of a file, no more than one over the most that is read.

    Args:
        path: of the file.
        what: it should be, for the message: ``the drawer``.

    ``-`` is standard input.

    Raises:
        SpecError: it cannot be read.
    """
    try:
        if str(path) == "-":
            return sys.stdin.buffer.read(LARGEST_BYTES + 1)
        with open(path, "rb", opener=_open_pipe) as file:
            return file.read(LARGEST_BYTES + 1)
    except (OSError, ValueError) as error:
        reason = getattr(error, "strerror", None) or str(error)
        fault = Fault(Place(str(path), 1, 1), f"{what} cannot be read: {reason}")
        raise SpecError([fault]) from None


def _open_pipe(path: str, flags: int) -> int:
    """Open a file; of a pipe with nobody at its other end, do not wait for ever.

    Raises:
        OSError: nothing came for ``_PATIENCE`` seconds.
    """
    descriptor = os.open(path, flags | getattr(os, "O_NONBLOCK", 0))
    if stat.S_ISFIFO(os.fstat(descriptor).st_mode):
        if not select.select([descriptor], [], [], _PATIENCE)[0]:
            os.close(descriptor)
            raise TimeoutError(errno.ETIMEDOUT, "nothing comes out of this pipe", path)
        os.set_blocking(descriptor, True)
    return descriptor


def tree_of(data: bytes, report: Report, first: str = "rewire: 1") -> Mapping:
    """The text as a tree with places; ``first`` is what such a file begins with.

    What cannot be read within it (a tag, say) is a torn node.

    Raises:
        SpecError: it is no text, or no tree.
    """
    try:
        return parse(data, report, first)
    except Unreadable:
        raise report.error() from None


def whole_tree_of(data: bytes, report: Report, first: str) -> Mapping:
    """As ``tree_of``, for readers that do not look past a torn node.

    Raises:
        SpecError: it is no text, no tree, or not all of it can be read.
    """
    tree = tree_of(data, report, first)
    if report and next(torn_in(tree), None) is not None:
        raise report.error()
    return tree


def is_marked(tree: Mapping, report: Report, key: str, what: str) -> bool:
    """Whether a file says what it is, ``rewire_drawer: 1`` say; a fault where it does not."""
    version = tree.entries.get(key)
    if isinstance(version, Scalar) and version.text.strip() == "1":
        return True
    at = report.place(tree.line, tree.column)
    report.fault(at, f"this is not {what}: '{key}: 1' is needed", "write it on the first line")
    return False
