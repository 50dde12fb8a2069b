"""Files are written whole or not at all, and never over somebody else's work."""

from __future__ import annotations

import errno
import os
import signal
import stat
import subprocess
import sys
from pathlib import Path

import pytest
from hypothesis import given, strategies as st

from rewire.cli.files import MARK, is_ours, write_whole
from rewire.cli.trouble import Refused

OLD = b"<!-- rewire-made --> the sheet of yesterday"
NEW = b"<!-- rewire-made --> the sheet of today" * 1000


def folder_holds(folder: Path) -> list[str]:
    return sorted(entry.name for entry in folder.iterdir())


@pytest.fixture
def old(tmp_path: Path) -> Path:
    path = tmp_path / "sheet.svg"
    path.write_bytes(OLD)
    return path


def test_a_new_file_is_written_and_nothing_is_left_beside_it(tmp_path: Path) -> None:
    write_whole(tmp_path / "sheet.svg", NEW, force=False)
    assert (tmp_path / "sheet.svg").read_bytes() == NEW
    assert folder_holds(tmp_path) == ["sheet.svg"]


def test_a_new_file_gets_the_permissions_the_umask_leaves(tmp_path: Path) -> None:
    before = os.umask(0o027)
    try:
        write_whole(tmp_path / "sheet.svg", NEW, force=False)
    finally:
        os.umask(before)
    assert stat.S_IMODE((tmp_path / "sheet.svg").stat().st_mode) == 0o640


def test_our_own_file_is_replaced_and_keeps_its_permissions(old: Path) -> None:
    old.chmod(0o604)
    write_whole(old, NEW, force=False)
    assert old.read_bytes() == NEW
    assert stat.S_IMODE(old.stat().st_mode) == 0o604


@pytest.mark.parametrize("foreign", [b"", b"my own notes", b"x" * 5000 + MARK + b"x" * 5000])
def test_a_file_we_did_not_write_is_left_alone_without_force(old: Path, foreign: bytes) -> None:
    old.write_bytes(foreign)
    with pytest.raises(Refused, match="--force"):
        write_whole(old, NEW, force=False)
    assert old.read_bytes() == foreign
    write_whole(old, NEW, force=True)
    assert old.read_bytes() == NEW


def test_a_missing_folder_is_named_with_the_way_out(tmp_path: Path) -> None:
    missing = tmp_path / "not" / "there"
    with pytest.raises(Refused, match=f"mkdir -p {missing}"):
        write_whole(missing / "sheet.svg", NEW, force=True)
    assert folder_holds(tmp_path) == []


def test_a_file_in_the_place_of_the_folder_is_told_apart_from_a_missing_one(old: Path) -> None:
    with pytest.raises(Refused, match="is not a folder"):
        write_whole(old / "sheet.svg", NEW, force=True)
    assert old.read_bytes() == OLD


def test_a_folder_and_a_pipe_are_never_replaced_even_with_force(tmp_path: Path) -> None:
    os.mkfifo(tmp_path / "pipe")
    (tmp_path / "folder").mkdir()
    for name, said in (("pipe", "not a plain file"), ("folder", "it is a folder")):
        with pytest.raises(Refused, match=said):
            write_whole(tmp_path / name, NEW, force=True)
    assert stat.S_ISFIFO((tmp_path / "pipe").stat().st_mode)
    assert folder_holds(tmp_path) == ["folder", "pipe"]


def test_a_link_is_followed_and_stays_a_link(old: Path) -> None:
    link = old.with_name("latest.svg")
    link.symlink_to(old.name)
    write_whole(link, NEW, force=False)
    assert link.is_symlink()
    assert old.read_bytes() == NEW


@pytest.mark.parametrize("call", ["write", "fsync", "replace", "open"])
@pytest.mark.parametrize("number", [errno.ENOSPC, errno.EROFS, errno.EACCES])
def test_a_failing_system_call_leaves_the_old_file_and_nothing_else(
    old: Path, monkeypatch: pytest.MonkeyPatch, call: str, number: int
) -> None:
    def fail(*_args: object) -> int:
        raise OSError(number, os.strerror(number))

    monkeypatch.setattr(os, call, fail)
    with pytest.raises(OSError, match=os.strerror(number)) as caught:
        write_whole(old, NEW, force=True)
    monkeypatch.undo()
    assert caught.value.filename == str(old)
    assert old.read_bytes() == OLD
    assert folder_holds(old.parent) == ["sheet.svg"]


def test_a_disk_that_fills_in_the_middle_leaves_the_old_file(
    old: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    write, room = os.write, [len(NEW) // 2]

    def write_while_there_is_room(descriptor: int, data: memoryview) -> int:
        if not room[0]:
            raise OSError(errno.ENOSPC, os.strerror(errno.ENOSPC))
        done = write(descriptor, data[: min(room[0], 100)])
        room[0] -= done
        return done

    monkeypatch.setattr(os, "write", write_while_there_is_room)
    with pytest.raises(OSError, match="No space left"):
        write_whole(old, NEW, force=True)
    monkeypatch.undo()
    assert room == [0]
    assert old.read_bytes() == OLD
    assert folder_holds(old.parent) == ["sheet.svg"]


@given(cuts=st.lists(st.integers(1, 50), min_size=1))
def test_short_writes_lose_nothing(
    tmp_path_factory: pytest.TempPathFactory, cuts: list[int]
) -> None:
    write, turn = os.write, [0]

    def write_a_little(descriptor: int, data: memoryview) -> int:
        turn[0] += 1
        return write(descriptor, data[: cuts[turn[0] % len(cuts)]])

    path, data = tmp_path_factory.mktemp("short") / "sheet.svg", OLD * 5
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(os, "write", write_a_little)
        write_whole(path, data, force=False)
    assert path.read_bytes() == data


@pytest.mark.parametrize("call", ["write", "fsync", "replace"])
def test_a_process_killed_in_the_middle_leaves_the_old_file(old: Path, call: str) -> None:
    program = (
        "import os, signal, sys\n"
        "from pathlib import Path\n"
        "from rewire.cli.files import write_whole\n"
        f"os.{call} = lambda *args: os.kill(os.getpid(), signal.SIGKILL)\n"
        "write_whole(Path(sys.argv[1]), b'rewire-made', force=True)\n"
    )
    ended = subprocess.run([sys.executable, "-c", program, str(old)], check=False)
    assert ended.returncode == -signal.SIGKILL
    assert old.read_bytes() == OLD


@given(before=st.integers(0, 9000), after=st.integers(0, 9000))
def test_the_mark_counts_within_4_kib_of_either_end(
    tmp_path_factory: pytest.TempPathFactory, before: int, after: int
) -> None:
    path = tmp_path_factory.mktemp("mark") / "file"
    path.write_bytes(b"." * before + MARK + b"." * after)
    assert is_ours(path) == (before + len(MARK) <= 4096 or after + len(MARK) <= 4096)
