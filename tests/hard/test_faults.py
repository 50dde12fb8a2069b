"""What the machine does to a run: full disks, closed streams, kills, odd locales, two at once."""

from __future__ import annotations

import io
import os
import signal
import subprocess
import sys
import threading
import time
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

import pytest

from rewire.cli import main
from rewire.cli.files import is_ours, write_whole
from tests.hard.commands import FILES, REPORTS, SMALL, ran, spelt, with_text_everywhere, written

OLD = b"<!-- rewire-made --> of yesterday"
DRAWN = ("draw", "SPEC", "--view", "lugs", "-o", "drawn.pdf")
# Python ignores SIGXFSZ, so writing past the limit fails as on a full disk (setrlimit(2)).
FULL = """
import resource, sys
from rewire.cli import main
resource.setrlimit(resource.RLIMIT_FSIZE, (2000, 2000))
sys.argv[0] = "rewire"
main()
"""


@pytest.fixture
def spec(tmp_path: Path) -> Path:
    return written(tmp_path, with_text_everywhere("plain"))


def process(*words: str, **how: object) -> subprocess.CompletedProcess[str]:
    command = [sys.executable, "-m", "rewire", *words]
    return subprocess.run(command, encoding="utf-8", check=False, **how)  # type: ignore[call-overload,no-any-return]


def test_a_disk_that_is_full_leaves_the_old_file_and_one_line(spec: Path) -> None:
    place = spec.with_name("drawn.pdf")
    place.write_bytes(OLD)
    words = spelt(DRAWN, spec, spec.parent)
    done = subprocess.run(
        [sys.executable, "-c", FULL, *words], capture_output=True, encoding="utf-8", check=False
    )
    assert done.returncode == 2
    assert done.stderr.splitlines()[-1] == f"{place}: not written: File too large"
    assert place.read_bytes() == OLD
    assert sorted(spec.parent.iterdir()) == [place, spec]


@contextmanager
def standing_in(stream: str, file: io.TextIOBase) -> Iterator[None]:
    before = getattr(sys, stream)
    setattr(sys, stream, file)
    try:
        yield
    finally:
        setattr(sys, stream, before)


def status_of(*words: str) -> int:
    """The exit status of the program itself, called with these words."""
    argv, sys.argv = sys.argv, ["rewire", *words]
    try:
        main()
    except SystemExit as end:
        return int(end.code or 0)
    finally:
        sys.argv = argv
    return 0


@pytest.mark.parametrize("name", REPORTS)
def test_standard_output_on_a_full_disk_is_one_line(
    name: str, spec: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    words = spelt(REPORTS[name], spec, spec.parent)
    with open("/dev/full", "w", encoding="utf-8") as full, standing_in("stdout", full):  # noqa: PTH123
        assert status_of(*words) == 2
    assert capsys.readouterr().err == "standard output: No space left on device\n"


@pytest.mark.parametrize("name", REPORTS)
def test_a_pipe_closed_at_its_other_end_ends_it_quietly(
    name: str, spec: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    theirs, ours = os.pipe()
    os.close(theirs)
    with os.fdopen(ours, "w", encoding="utf-8") as pipe, standing_in("stdout", pipe):
        assert status_of(*spelt(REPORTS[name], spec, spec.parent)) == 141
    assert capsys.readouterr().err == ""


def test_the_help_on_a_full_disk_is_one_line() -> None:
    with open("/dev/full", "w", encoding="utf-8") as full:  # noqa: PTH123  a device
        done = process("--help", stdout=full, stderr=subprocess.PIPE)
    assert (done.returncode, done.stderr) == (2, "standard output: No space left on device\n")


@pytest.mark.parametrize("closed", ["<&-", ">&-", "2>&-", "<&- >&- 2>&-"])
def test_a_run_without_its_streams_is_as_one_that_nobody_looks_at(closed: str, spec: Path) -> None:
    """A service or a cron job may start it so; the shell's words for it are those of POSIX."""
    place = spec.with_name("drawn.svg")
    words = ["draw", str(spec), "--view", "lugs", "--wiring", "original", "-o", str(place)]
    script = f'exec "$0" -m rewire "$@" {closed}'
    done = subprocess.run(
        ["sh", "-c", script, sys.executable, *words], capture_output=True, check=False
    )
    assert done.returncode == 0
    assert b"Traceback" not in done.stderr
    data = place.read_bytes()
    assert data.startswith(b"<?xml")
    assert data.rstrip().endswith(b"</svg>")
    assert is_ours(place)


def test_the_output_folder_is_missing(spec: Path) -> None:
    for name, command in FILES.items():
        gone = spec.parent / "gone" / "there"
        done = ran(*spelt(command, spec, gone))
        assert done.exit_code == 2, name
        assert "gone" in done.stderr
        assert len(done.stderr.splitlines()) <= 4
    assert list(spec.parent.iterdir()) == [spec]


def test_the_output_folder_takes_no_file(spec: Path) -> None:
    """No user, not even root, may make a file in /proc (proc(5))."""
    for name in ("draw to PDF", "sheet", "page"):
        done = ran(*spelt(FILES[name], spec, Path("/proc")))
        assert done.exit_code == 2
        last = done.stderr.splitlines()[-1]
        assert last.startswith("/proc/")
        assert ": not written: " in last


@pytest.mark.parametrize("seconds", [0.4, 0.9, 1.6])
def test_a_run_killed_at_any_moment_leaves_the_old_file_or_the_whole_new_one(
    spec: Path, seconds: float
) -> None:
    place = spec.with_name("drawn.pdf")
    place.write_bytes(OLD)
    words = spelt(DRAWN, spec, spec.parent)
    running = subprocess.Popen([sys.executable, "-m", "rewire", *words], stderr=subprocess.DEVNULL)
    time.sleep(seconds)
    running.kill()
    running.wait()
    data = place.read_bytes()
    assert data == OLD or (data.startswith(b"%PDF-") and data.endswith(b"%%EOF\n"))


def test_ctrl_c_in_the_middle_leaves_the_old_file_alone(spec: Path) -> None:
    place = spec.with_name("drawn.pdf")
    place.write_bytes(OLD)
    program = (
        "import os, signal, sys\n"
        "from rewire.cli import files, main\n"
        "write = os.write\n"
        "os.write = lambda *args: os.kill(os.getpid(), signal.SIGINT) or write(*args)\n"
        "sys.argv[0] = 'rewire'\n"
        "main()\n"
    )
    words = spelt(DRAWN, spec, spec.parent)
    done = subprocess.run(
        [sys.executable, "-c", program, *words], capture_output=True, encoding="utf-8", check=False
    )
    assert done.returncode == 130
    assert "Traceback" not in done.stderr
    assert place.read_bytes() == OLD
    assert sorted(spec.parent.iterdir()) == [place, spec]


def test_two_runs_that_write_one_file_leave_one_of_theirs_whole(tmp_path: Path) -> None:
    place = tmp_path / "sheet.svg"
    wholes = [b"<!-- rewire-made -->" + letter * 300_000 for letter in (b"a", b"b", b"c")]
    place.write_bytes(wholes[0])
    seen: set[bytes] = set()
    done = threading.Event()

    def look() -> None:
        while not done.is_set():
            seen.add(place.read_bytes())

    def write(data: bytes) -> None:
        for _ in range(15):
            write_whole(place, data, force=False)

    looking = threading.Thread(target=look)
    writing = [threading.Thread(target=write, args=(data,)) for data in wholes]
    for thread in (looking, *writing):
        thread.start()
    for thread in writing:
        thread.join()
    done.set()
    looking.join()
    assert seen <= set(wholes)
    assert place.read_bytes() in wholes
    assert list(tmp_path.iterdir()) == [place]


C_LOCALE = """
import os, sys
from rewire.cli import main
for words in {commands!r}:
    if os.fork() == 0:
        sys.argv[:] = ["rewire", *map(os.fsdecode, words)]
        main()
        os._exit(99)
    _, status = os.wait()
    print("ended", os.waitstatus_to_exitcode(status), flush=True)
"""


def test_a_locale_that_is_not_utf_8(tmp_path: Path) -> None:
    """The C locale with UTF-8 mode off: Python then speaks ASCII (PEP 538, PEP 540)."""
    path = written(tmp_path, with_text_everywhere("Röhre 5 kΩ, \u05de\u05ea\u05d2"), "Gerät.yaml")
    out = tmp_path / "out"
    out.mkdir()
    names = [name for name in REPORTS if "json" not in name]
    commands = [spelt(REPORTS[name], path, out) for name in names]
    commands.append(["draw", str(path), "--view", "lugs", "-o", str(out)])
    as_bytes = [[os.fsencode(word) for word in words] for words in commands]
    done = subprocess.run(
        [sys.executable, "-c", C_LOCALE.format(commands=as_bytes)],
        capture_output=True, check=False,
        env={**os.environ, "LC_ALL": "C", "PYTHONUTF8": "0", "PYTHONCOERCECLOCALE": "0"},
    )  # fmt: skip
    assert b"Traceback" not in done.stderr
    assert done.stdout.isascii()
    ended = [line.split()[1] for line in done.stdout.splitlines() if line.startswith(b"ended")]
    assert len(ended) == len(commands)
    assert set(ended) <= {b"0", b"1"}
    assert rb"5 k\u03a9" in done.stdout
    assert [file.suffix for file in out.iterdir()] == [".pdf"]


@pytest.mark.parametrize("columns", ["20", "1", "0", "-7", "many", "100000"])
def test_a_narrow_terminal_or_a_nonsense_width(columns: str, spec: Path) -> None:
    for name in ("check", "values", "moves", "buzz", "fit"):
        done = ran(*spelt(REPORTS[name], spec, spec.parent), COLUMNS=columns)
        assert done.exit_code in (0, 1)
        assert len(done.stdout) > 100
        longest = max(map(len, done.stdout.splitlines()))
        assert longest <= 100


def test_an_answer_that_nobody_types(tmp_path: Path) -> None:
    done = process(
        "buzz", str(SMALL), "--ask", "--wiring", "substitute",
        stdin=subprocess.DEVNULL, capture_output=True, cwd=tmp_path,
    )  # fmt: skip
    assert done.returncode == 0
    assert "Traceback" not in done.stderr
    assert list(tmp_path.iterdir()) == []


def test_killed_by_a_signal_is_how_a_shell_would_say_it() -> None:
    """128 and the number of the signal: POSIX shells, and signal(7) for the numbers."""
    from rewire.cli.commands import INTERRUPTED, READER_GONE

    assert INTERRUPTED == 128 + signal.SIGINT
    assert READER_GONE == 128 + signal.SIGPIPE
