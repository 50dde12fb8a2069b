"""Files the program writes: whole or not at all, and never over somebody else's work.

Every file that a command writes must carry the bytes ``rewire-made`` within its first or its
last 4 KiB, or the next run will take it for the user's own and refuse to replace it:

* PDF: as a comment line ``%rewire-made`` right before ``startxref``. (Nothing points past
  that place, so no offset moves. The information dictionary alone is not enough: the
  cross-reference table of a long document pushes it out of the last 4 KiB.)
* SVG and HTML: ``<!-- rewire-made -->`` near the beginning.
* PNG: a text chunk, written before the picture.
* A file that the user is meant to edit (a starter spec) carries no mark, so that what was
  edited is safe.
"""

from __future__ import annotations

import os
import secrets
import stat
from pathlib import Path

from rewire.cli.trouble import OutputRefused

MARK = b"rewire-made"
_SEARCHED = 4096


def write_whole(path: Path, data: bytes, force: bool) -> None:
    """Write a file so that at every moment either the old or the whole new one is there.

    Args:
        path: where; a link is followed. Its folder must exist.
        data: all of it.
        force: replace a file even if this program did not write it.

    Raises:
        OutputRefused: the folder is missing, the place is taken by something else, or the file
            is not ours and ``force`` is not given.
        OSError: it cannot be written (a full disk, a folder without leave); the error names
            ``path``, and the old file is untouched.
    """
    place = Path(os.path.realpath(path))
    _check_folder(path, place)
    mode = _mode_to_keep(path, place, force)
    # Short and unlike any name of ours, whatever the length of the file's own name.
    beside = place.with_name(f".rewire-{secrets.token_hex(6)}.part")
    try:
        _fill(beside, data, mode)
        os.replace(beside, place)  # noqa: PTH105  the tests stand in for the system's calls
    except OSError as error:
        raise OSError(error.errno, f"not written: {error.strerror}", str(path)) from error
    finally:
        beside.unlink(missing_ok=True)


def is_ours(path: Path) -> bool:
    """Whether this program wrote a file: whether it carries the mark."""
    with path.open("rb") as file:
        head = file.read(_SEARCHED)
        file.seek(0, os.SEEK_END)
        file.seek(max(0, file.tell() - _SEARCHED))
        return MARK in head or MARK in file.read()


def _check_folder(path: Path, place: Path) -> None:
    folder = place.parent
    if folder.is_dir():
        return
    shown = path.parent
    if folder.exists():
        raise OutputRefused(f"{path}: not written; {shown} is not a folder")
    raise OutputRefused(
        f"{path}: not written; the folder {shown} does not exist; make it first: mkdir -p {shown}"
    )


def _mode_to_keep(path: Path, place: Path, force: bool) -> int | None:
    """The permissions of the file that will be replaced; None where there is none."""
    try:
        status = place.stat()
    except FileNotFoundError:
        return None
    if stat.S_ISDIR(status.st_mode):
        raise OutputRefused(f"{path}: not written; it is a folder: name a file in it")
    if not stat.S_ISREG(status.st_mode):
        raise OutputRefused(f"{path}: not written; it is not a plain file: name another")
    if not force and not is_ours(place):
        raise OutputRefused(
            f"{path}: not written; a file is there that rewire did not make: "
            "name another, or replace it with --force"
        )
    return stat.S_IMODE(status.st_mode)


def _fill(beside: Path, data: bytes, mode: int | None) -> None:
    # O_EXCL: never through a link that somebody laid there. 0o666: the umask takes its share.
    flags = os.O_WRONLY | os.O_CREAT | os.O_EXCL | getattr(os, "O_BINARY", 0)
    descriptor = os.open(beside, flags, 0o666)
    try:
        left = memoryview(data)
        while left:
            left = left[os.write(descriptor, left) :]
        os.fsync(descriptor)
    finally:
        os.close(descriptor)
    if mode is not None:
        beside.chmod(mode)
