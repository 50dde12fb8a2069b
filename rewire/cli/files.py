"""Files the program writes: whole or not at all, and never over somebody else's work.

Every file that a command writes must carry the bytes ``rewire-made`` within its first or its
last 4 KiB, or the next run will take it for the user's own and refuse to replace it:

* PDF: as a comment line ``%rewire-made`` right before the last ``startxref``. (Nothing points past
  that place, so no offset moves. The information dictionary alone is not enough: the
  cross-reference table of a long document pushes it out of the last 4 KiB.)
* SVG and HTML: ``<!-- rewire-made -->`` near the beginning.
* PNG: a text chunk, written before the picture.
* A file that the user is meant to edit (a starter spec) carries no mark, so that what was
  edited is safe.

A run that is killed while it writes may leave ``.rewire-….part`` beside the file; a later run
removes it.
"""

from __future__ import annotations

import hashlib
import os
import re
import secrets
import stat
import sys
import time
from collections.abc import Iterable, Iterator, Sequence
from contextlib import contextmanager, suppress
from pathlib import Path

from rewire.cli.trouble import Refused, refusal

MARK = b"rewire-made"
_SEARCHED = 4096
_UNSAFE = re.compile(r"[^A-Za-z0-9_+-]+")
_LONGEST = 80
_PART = re.compile(r"\.rewire-[0-9a-f]{12}\.part")
_ABANDONED = 600.0
"""Seconds after which a file that is written in one go is not going to be finished."""


def write_whole(path: Path, data: bytes, force: bool) -> None:
    """Write a file so that at every moment either the old or the whole new one is there.

    A link is followed; only with ``force`` a file is replaced that this program did not write.

    Raises:
        Refused: the file cannot go there.
        OSError: it cannot be written (a full disk, a folder without leave); the error names
            ``path``, and the old file is untouched.
    """
    place = Path(os.path.realpath(path))
    mode = check_place(path, force)
    # Short, and unlike any other name here, whatever the length of the file's own name.
    beside = place.with_name(f".rewire-{secrets.token_hex(6)}.part")
    try:
        _fill(beside, data, mode)
        os.replace(beside, place)  # noqa: PTH105  the tests stand in for the system's calls
    except OSError as error:
        raise OSError(error.errno, f"not written: {error.strerror}", str(path)) from error
    finally:
        beside.unlink(missing_ok=True)
    _sweep(place.parent)


def _sweep(folder: Path) -> None:
    """Remove half-written files of runs that were killed, once nobody can still be writing them."""
    for left in folder.glob(".rewire-*.part"):
        with suppress(OSError):  # another run may be sweeping too; what stays does no harm
            if _PART.fullmatch(left.name) and time.time() - left.lstat().st_mtime > _ABANDONED:
                left.unlink()


@contextmanager
def alone_in_folder(path: Path) -> Iterator[None]:
    """Lock the folder of a file: another run that asks for this waits until the block ends.

    The folder is locked, for the file itself is replaced. Windows has no such lock: two runs may
    meet there.
    """
    if sys.platform == "win32":
        yield
        return
    import fcntl

    folder = os.open(Path(os.path.realpath(path)).parent, os.O_RDONLY)
    try:
        fcntl.flock(folder, fcntl.LOCK_EX)
        yield
    finally:
        os.close(folder)


def check_place(path: Path, force: bool) -> int | None:
    """See that a file may be written, before the work of making it.

    Returns:
        The permissions of the file that will be replaced; None where there is none.

    Raises:
        Refused: its folder is missing, or something else is there.
    """
    try:
        place = Path(os.path.realpath(path))
    except FileNotFoundError:
        raise _refused(path, "the folder you are in is gone", "change into another") from None
    _check_folder(path, place)
    return _mode_to_keep(path, place, force)


def check_free(path: Path) -> None:
    """See that nothing is there, for a command that replaces no file, not even one of ours.

    Raises:
        Refused: a file or a link is there.
    """
    if not path.is_dir() and (path.exists() or path.is_symlink()):
        raise _refused(path, "a file is there already", "name another")


def is_ours(path: Path) -> bool:
    """Whether this program wrote a file: whether it carries the mark."""
    with path.open("rb") as file:
        head = file.read(_SEARCHED)
        file.seek(0, os.SEEK_END)
        file.seek(max(0, file.tell() - _SEARCHED))
        return MARK in head or MARK in file.read()


def _check_folder(path: Path, place: Path) -> None:
    folder, shown = place.parent, path.parent
    if folder.is_dir():
        return
    if folder.exists():
        raise _refused(path, f"{shown} is not a folder", "name a file in a folder")
    raise _refused(path, f"the folder {shown} does not exist", f"make it first: mkdir -p {shown}")


def _mode_to_keep(path: Path, place: Path, force: bool) -> int | None:
    try:
        status = place.stat()
    except FileNotFoundError:
        return None
    if stat.S_ISDIR(status.st_mode):
        raise _refused(path, "it is a folder", "name a file in it")
    if not stat.S_ISREG(status.st_mode):
        raise _refused(path, "it is not a plain file", "name another")
    if not force and not is_ours(place):
        what = "a file is there that rewire did not make"
        raise _refused(path, what, "name another, or replace it with --force")
    return stat.S_IMODE(status.st_mode)


def _refused(path: Path, why: str, way_out: str) -> Refused:
    return refusal(f"not written: {why}", str(path), way_out)


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


def safe(word: str) -> str:
    """A name from a spec as part of a file's name: letters, digits, ``_``, ``+``, ``-`` alone."""
    return _UNSAFE.sub("_", word)


def stem_with(stem: str, choices: Sequence[str]) -> str:
    """The name of a file without its ending, with what was chosen behind it.

    Names in a spec are data. Where they cannot stand in a file's name as they are, or are too long
    for one, a few digits of their digest tell choices apart that would look alike.

    >>> stem_with("amplifier", []), stem_with("amplifier", ["substitute", "lugs"])
    ('amplifier', 'amplifier-substitute-lugs')
    >>> stem_with("amplifier", ["a b"])
    'amplifier-a_b-c8687a08'
    """
    words = [safe(word) for word in choices]
    name = "-".join([stem, *words])
    if words == list(choices) and len(name) - len(stem) <= _LONGEST:
        return name
    digest = hashlib.sha256("\0".join(choices).encode("utf-8", "surrogatepass")).hexdigest()[:8]
    return f"{name[: len(stem) + _LONGEST]}-{digest}"


def file_stems(stem: str, words: Iterable[Sequence[str]]) -> list[str]:
    """A name without its ending for each of several files; no two alike on any system.

    >>> file_stems("amplifier", [("lugs", "S1"), ("lugs", "s1")])
    ['amplifier-lugs-S1', 'amplifier-lugs-s1_2']
    """
    stems: list[str] = []
    taken: set[str] = set()
    for one in words:
        wished = "-".join(map(safe, one))[:_LONGEST]
        name, number = wished, 1
        while name.casefold() in taken:
            number += 1
            name = f"{wished}_{number}"
        taken.add(name.casefold())
        stems.append(f"{stem}-{name}")
    return stems
