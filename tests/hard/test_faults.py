"""What the machine does to a run: full disks, closed streams, kills, odd locales, two at once."""

from __future__ import annotations

import io
import os
import re
import signal
import subprocess
import sys
import tempfile
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

import pytest

from rewire.cli import ROOMS, main
from rewire.cli.files import is_ours, write_whole
from rewire.reading import read_spec
from rewire.reading.benchlog import read_bench_log, read_bench_log_text
from tests.hard.commands import (
    FILES,
    REPORTS,
    SMALL,
    forked,
    ran,
    spelt,
    with_text_everywhere,
    written,
)

OLD = b"<!-- rewire-made --> of yesterday"
LANDS = Path(__file__).parents[2] / "specs" / "exciter-timing.yaml"
DRAWN = ("draw", "SPEC", "--view", "lugs", "--wiring", "original", "-o", "drawn.svg")
ONE_FILE = (DRAWN, FILES["sheet"], FILES["page"])
# Python ignores SIGXFSZ, so writing past the limit fails as on a full disk (setrlimit(2)).
FULL = "resource.setrlimit(resource.RLIMIT_FSIZE, (2000, 2000))"
# Root may write anywhere: it becomes nobody, whose number on Linux this is, when it comes to
# writing. (Not before: nobody may be kept from the folders that Python is read from.)
NOBODY = """
import rewire.cli.{0} as room
def write(*args, real=room.write_whole, **keys):
    os.geteuid() or os.seteuid(65534)
    return real(*args, **keys)
room.write_whole = write
"""
# The process ends, with no chance to tidy up, at the Nth call of those that touch a file.
KILLED_AT = """
count = iter(range({}, -1, -1))
def deadly(call):
    def called(*args, **keys):
        if next(count, None) == 0:
            os.kill(os.getpid(), signal.{})
        return call(*args, **keys)
    return called
for name in ("open", "write", "fsync", "close", "chmod", "replace", "unlink"):
    setattr(os, name, deadly(getattr(os, name)))
"""
# A process that does not wait for the alarm is ended by it (signal(7)).
KILLED_AFTER = "signal.setitimer(signal.ITIMER_REAL, {})"


@pytest.fixture
def spec(tmp_path: Path) -> Path:
    return written(tmp_path, with_text_everywhere("plain"))


def process(*words: str, **how: object) -> subprocess.CompletedProcess[str]:
    command = [sys.executable, "-m", "rewire", *words]
    return subprocess.run(command, encoding="utf-8", check=False, **how)  # type: ignore[call-overload,no-any-return]


def test_a_disk_that_is_full_leaves_the_old_file_and_one_line(spec: Path) -> None:
    places = [Path(spelt(command, spec, spec.parent)[-1]) for command in ONE_FILE]
    for place in places:
        place.write_bytes(OLD)
    ended = forked([(spelt(command, spec, spec.parent), FULL) for command in ONE_FILE])
    for place, end in zip(places, ended, strict=True):
        assert end.status == 2
        assert end.err.decode().splitlines()[-1] == f"{place}: not written: File too large"
        assert place.read_bytes() == OLD
    assert sorted(spec.parent.iterdir()) == sorted([spec, *places])


TYPED = """
answers = iter(["c\\n", "o\\n"])
def answer():
    word = next(answers, None)
    if word is None:
        raise KeyboardInterrupt
    return word
sys.stdin.readline = answer
"""
"""Two readings at the bench, then Ctrl-C."""
ASKED = ("buzz", str(SMALL), "--ask", "--wiring", "substitute", "--save")
FITTED = ("--replace", "S2", "--switch", "SPDT", "--timing", "non-shorting", "--write", "tried")
WRITERS: dict[str, tuple[tuple[str, ...], str]] = {
    "card.pdf": (("draw", str(SMALL), "-o", "card.pdf"), ""),
    "sheet.pdf": (("sheet", str(SMALL), "--sections", "verdict", "-o", "sheet.pdf"), ""),
    "page.html": (("sheet", str(SMALL), "--sections", "verdict", "-o", "page.html"), ""),
    "new.yaml": (("new", "new.yaml"), ""),
    "spec.yaml": (("fit", "spec.yaml", *FITTED), ""),
    "log.yaml": ((*ASKED, "log.yaml"), TYPED),
}
"""The file that is written → the words, and what is typed."""
NO_ROOM = "resource.setrlimit(resource.RLIMIT_FSIZE, (10, 10))"
KILLED_IN = "os.{} = lambda *_, **__: os.kill(os.getpid(), signal.SIGKILL)"


def there(folder: Path) -> dict[str, bytes]:
    return {file.name: file.read_bytes() for file in folder.iterdir() if file.suffix != ".part"}


@pytest.mark.parametrize("name", WRITERS)
def test_every_writer_writes_all_of_its_file_or_leaves_what_was_there(
    name: str, tmp_path: Path
) -> None:
    """Unharmed; with no room on the disk; killed while it writes, and before the file is named."""
    words, typed = WRITERS[name]
    harms = ["", NO_ROOM, *(KILLED_IN.format(call) for call in ("write", "fsync", "replace"))]
    folders = [tmp_path / str(number) for number in range(len(harms))]
    for folder in folders:
        folder.mkdir()
        (folder / "spec.yaml").write_bytes(LANDS.read_bytes())
    before = there(folders[0])
    ended = forked([
        (words, f"os.chdir({str(folder)!r})\n{typed}\n{harm}")
        for folder, harm in zip(folders, harms, strict=True)
    ])  # fmt: skip
    whole = there(folders[0])
    assert whole.keys() == {name, "spec.yaml"}
    assert whole[name] != before.get(name)
    assert [end.status for end in ended[1:]] == [2, *[-signal.SIGKILL] * 3]
    assert b"File too large" in ended[1].err.splitlines()[-1]
    assert all(there(folder) == before for folder in folders[1:])


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
def test_a_run_with_closed_streams_ends_as_usual(closed: str, tmp_path: Path) -> None:
    """A service or a cron job may start it so; the shell's words for it are those of POSIX."""
    place = tmp_path / "new.yaml"
    script = f'exec "$0" -m rewire new "$1" {closed}'
    done = subprocess.run(
        ["sh", "-c", script, sys.executable, place], capture_output=True, check=False
    )
    assert done.returncode == 0
    assert b"Traceback" not in done.stderr
    made = place.read_text("utf-8")
    place.unlink()
    assert ran("new", str(place)).exit_code == 0
    assert place.read_text("utf-8") == made


def test_a_picture_drawn_without_any_stream_holds_the_picture_alone(spec: Path) -> None:
    close = "sys.stdin = sys.stdout = sys.stderr = None; os.closerange(0, 3)"
    (end,) = forked([(spelt(DRAWN, spec, spec.parent), close)])
    assert end.status == 0
    place = spec.with_name("drawn.svg")
    assert place.read_bytes().startswith(b"<?xml")
    assert place.read_bytes().rstrip().endswith(b"</svg>")
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
    done = ran(*spelt(FILES["page"], spec, Path("/proc")))
    assert done.exit_code == 2
    last = done.stderr.splitlines()[-1]
    assert last.startswith("/proc/")
    assert ": not written: " in last


@pytest.fixture
def open_folder() -> Iterator[Path]:
    """A folder to which every user may go, which a test's own is not."""
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        folder.chmod(0o755)
        yield folder
        folder.chmod(0o755)


def test_the_output_folder_is_read_only(open_folder: Path, spec: Path) -> None:
    new, old = open_folder / "new.yaml", open_folder / "drawn.svg"
    old.write_bytes(OLD)
    open_folder.chmod(0o555)
    runs = [["new", str(new)], spelt(DRAWN, spec, open_folder)]
    ended = forked([(words, NOBODY.format(ROOMS.get(words[0], words[0]))) for words in runs])
    for place, end in zip((new, old), ended, strict=True):
        assert end.status == 2
        assert (
            end.err.decode()
            == f"{place}: not written: Permission denied; name a place in a folder of yours\n"
        )
    assert old.read_bytes() == OLD
    assert list(open_folder.iterdir()) == [old]


def test_a_spec_that_may_not_be_read(open_folder: Path, spec: Path) -> None:
    """Real and effective user: access(2) asks the one, open(2) the other."""
    locked = open_folder / "locked.yaml"
    locked.write_bytes(spec.read_bytes())
    locked.chmod(0)
    rooms = "reading, rewire.circuit, rewire.cli.check, rewire.report.checked, rewire.report.text"
    as_nobody = f"import rewire.{rooms}\nos.geteuid() or os.setresuid(65534, 65534, 65534)"
    (end,) = forked([(["check", str(locked)], as_nobody)])
    assert end.status == 2
    said = f"{locked}:1:1: the file cannot be read: Permission denied; give yourself leave"
    assert end.err.decode().startswith(said)


def test_killed_at_any_moment_it_leaves_the_old_file_or_the_whole_new_one(spec: Path) -> None:
    """At every call that touches a file, one after the other; and by the clock."""
    moments = [KILLED_AT.format(number, "SIGKILL") for number in range(10)]
    moments += [KILLED_AFTER.format(0.03 * number) for number in range(1, 9)]
    folders = [spec.parent / str(number) for number in range(len(moments))]
    for folder in folders:
        folder.mkdir()
        (folder / "drawn.svg").write_bytes(OLD)
    ended = forked(
        [(spelt(DRAWN, spec, at), how) for at, how in zip(folders, moments, strict=True)]
    )
    assert {end.status for end in ended} == {0, -signal.SIGKILL, -signal.SIGALRM}
    found = [(folder / "drawn.svg").read_bytes() for folder in folders]
    whole = found[9]
    assert ended[9].status == 0
    assert whole.startswith(b"<?xml")
    assert whole.rstrip().endswith(b"</svg>")
    for end, data in zip(ended, found, strict=True):
        assert data in ((whole,) if end.status == 0 else (OLD, whole))
    left = [file for folder in folders for file in folder.iterdir() if file.name != "drawn.svg"]
    assert left
    assert all(re.fullmatch(r"\.rewire-[0-9a-f]{12}\.part", file.name) for file in left)


def test_what_a_killed_run_left_is_removed_once_nobody_can_be_writing_it(tmp_path: Path) -> None:
    fresh, stale = (tmp_path / f".rewire-{letter * 12}.part" for letter in "ab")
    others = tmp_path / ".rewire-of-mine.part"
    for file in (fresh, stale, others):
        file.write_bytes(b"half of")
    for file in (stale, others):
        os.utime(file, (1, 1))
    write_whole(tmp_path / "drawn.svg", OLD, force=False)
    assert sorted(tmp_path.iterdir()) == sorted([tmp_path / "drawn.svg", fresh, others])


def test_ctrl_c_in_the_middle_leaves_the_old_file_alone(spec: Path) -> None:
    place = spec.with_name("drawn.svg")
    place.write_bytes(OLD)
    words = spelt(DRAWN, spec, spec.parent)
    # Whoever started the tests in the background has Ctrl-C ignored in all that comes of them.
    heard = "signal.signal(signal.SIGINT, signal.default_int_handler)\n"
    moments = [heard + KILLED_AT.format(number, "SIGINT") for number in range(4)]
    for end in forked([(words, moment) for moment in moments]):
        assert end.status == 130
        assert b"Traceback" not in end.err
        assert place.read_bytes() == OLD
        assert sorted(spec.parent.iterdir()) == [place, spec]


WRITING = """
import sys
from pathlib import Path
from rewire.cli.files import write_whole
for _ in range(60):
    write_whole(Path(sys.argv[1]), b"<!-- rewire-made -->" + sys.argv[2].encode() * 300_000, False)
"""


def test_two_runs_that_write_one_file_leave_one_of_theirs_whole(tmp_path: Path) -> None:
    place = tmp_path / "sheet.svg"
    wholes = {b"<!-- rewire-made -->" + letter * 300_000 for letter in (b"a", b"b", b"c")}
    place.write_bytes(min(wholes))
    running = [
        subprocess.Popen([sys.executable, "-c", WRITING, str(place), letter]) for letter in "abc"
    ]
    seen: set[bytes] = set()
    while any(one.poll() is None for one in running):
        seen.add(place.read_bytes())
    assert [one.returncode for one in running] == [0, 0, 0]
    assert len(seen) > 1
    assert seen <= wholes
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
    assert set(ended) <= {b"0", b"1", b"3"}  # 3: fit, where the timing is not known
    assert rb"5 k\u03a9" in done.stdout
    assert [file.suffix for file in out.iterdir()] == [".pdf"]


@pytest.mark.parametrize("columns", ["20", "1", "0", "-7", "many", "100000"])
def test_a_narrow_terminal_or_a_nonsense_width(columns: str, spec: Path) -> None:
    for name in ("check", "values", "moves", "buzz", "fit"):
        done = ran(*spelt(REPORTS[name], spec, spec.parent), COLUMNS=columns)
        assert done.exit_code in ((0, 1, 3) if name == "fit" else (0, 1))
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


def test_readings_that_were_typed_are_kept_when_the_asking_is_broken_off(tmp_path: Path) -> None:
    """By Ctrl-C at the third question."""
    (end,) = forked([([*ASKED, str(tmp_path / "log.yaml")], TYPED)])
    assert end.status == 130
    log = read_bench_log(tmp_path / "log.yaml", read_spec(SMALL))
    assert [one.found for one in log.continuity] == ["closed", "open"]


def test_readings_that_cannot_be_saved_come_out_on_standard_output(tmp_path: Path) -> None:
    done = ran(*ASKED, "/proc/log.yaml", typed="c\no\nq\n")
    assert done.exit_code == 2
    assert "/proc/log.yaml: not written: " in done.stderr.splitlines()[-1]
    log = read_bench_log_text(done.stdout.encode(), read_spec(SMALL))
    assert [one.found for one in log.continuity] == ["closed", "open"]
    taken = tmp_path / "log.yaml"
    taken.write_text("mine", "utf-8")
    done = ran(*ASKED, str(taken), typed="c\n")
    assert (done.exit_code, done.stdout) == (2, "")
    assert "?" not in done.stderr
    assert taken.read_text("utf-8") == "mine"


def test_a_spec_that_comes_down_a_pipe_is_on_its_page_as_one_from_a_file(spec: Path) -> None:
    """A pipe gives what it holds once."""
    fed = f"r, w = os.pipe(); os.write(w, Path({str(spec)!r}).read_bytes()); os.close(w)"
    places = [spec.with_name("piped.html"), spec.with_name("filed.html")]
    piped, filed = ["sheet", "/dev/stdin", "-o"], ["sheet", str(spec), "-o"]
    ended = forked(
        [
            ([*piped, str(places[0])], f"{fed}; os.dup2(r, 0)"),
            ([*filed, str(places[1])], "pass"),
        ]
    )
    assert [end.status for end in ended] == [0, 0]
    pages = [place.read_text("utf-8") for place in places]
    sources = [re.findall(r'"source": ?"((?:[^"\\]|\\.)*)"', page) for page in pages]
    assert sources[0] == sources[1]
    assert [len(source) for source in sources[0]] >= [len(spec.read_bytes())]


def test_killed_by_a_signal_is_how_a_shell_would_say_it() -> None:
    """128 and the number of the signal: POSIX shells, and signal(7) for the numbers."""
    from rewire.cli import INTERRUPTED, READER_GONE

    assert INTERRUPTED == 128 + signal.SIGINT
    assert READER_GONE == 128 + signal.SIGPIPE
