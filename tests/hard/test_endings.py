"""How the program ends: killed, alone with a fault of its own, two at once, before a pipe."""

from __future__ import annotations

import json
import os
import re
import signal
import subprocess
import sys
import threading
import time
from pathlib import Path

import pytest
from click.testing import CliRunner, Result

from rewire.cli import rewire as group
from rewire.draw import images
from tests.reading.builders import as_yaml, bare

ROOT = Path(__file__).parents[2]
FLAGSHIP = str(ROOT / "specs" / "valve-amplifier.yaml")
LANDS = str(ROOT / "specs" / "exciter-timing.yaml")
SWITCH = {"switch": "SPDT", "control": "K", "timing": "non-shorting"}
WIRED = {"parts": {"S1": SWITCH}, "wires": [["X", "S1.A"], ["S1.A1", "CH"]]}


def small(**more: object) -> dict[str, object]:
    return bare(original=WIRED, substitute=WIRED) | {"controls": {"K": ["P", "Q"]}} | more


def rewire(*args: str) -> Result:
    return CliRunner().invoke(group, list(args))


def started(*args: str, **more: object) -> subprocess.Popen[str]:
    return subprocess.Popen(  # type: ignore[call-overload,no-any-return]
        [sys.executable, "-m", "rewire", *args], stdout=subprocess.PIPE, stderr=subprocess.PIPE,
        encoding="utf-8", cwd=ROOT, **more,
    )  # fmt: skip


def written(folder: Path, spec: object, name: str = "spec.yaml") -> str:
    path = folder / name
    path.write_bytes(as_yaml(spec))
    return str(path)


def children_of(pid: int) -> set[int]:
    """Processes whose parent a process is, from /proc."""
    found = set()
    for stat in Path("/proc").glob("[0-9]*/stat"):
        try:
            text = stat.read_text("utf-8")
        except OSError:  # it ended while we looked
            continue
        if int(text.rsplit(")", 1)[1].split()[1]) == pid:
            found.add(int(text.split()[0]))
    return found


def is_running(pid: int) -> bool:
    try:
        text = Path(f"/proc/{pid}/stat").read_text("utf-8")
    except OSError:
        return False
    return text.rsplit(")", 1)[1].split()[0] != "Z"


def test_no_worker_outlives_a_check_that_is_ended_from_outside() -> None:
    run = started("check", *[FLAGSHIP] * 300, "--jobs", "2")
    workers: set[int] = set()
    end = time.monotonic() + 60
    while len(workers) < 2 and time.monotonic() < end:
        workers = children_of(run.pid)
        time.sleep(0.05)
    assert len(workers) >= 2
    run.send_signal(signal.SIGTERM)
    run.communicate()
    while any(map(is_running, workers)) and time.monotonic() < end:
        time.sleep(0.1)
    assert [pid for pid in workers if is_running(pid)] == []


@pytest.mark.parametrize("ending", [signal.SIGTERM, signal.SIGHUP])
def test_what_was_typed_is_saved_when_the_window_closes(
    tmp_path: Path, ending: signal.Signals
) -> None:
    log = tmp_path / "log.yaml"
    run = started("buzz", FLAGSHIP, "--ask", "--save", str(log), stdin=subprocess.PIPE)
    assert run.stdin is not None
    assert run.stderr is not None
    run.stdin.write("c\n")
    run.stdin.flush()
    said = ""
    while "\n2. " not in said and run.poll() is None:
        said += run.stderr.read(1)
    run.send_signal(ending)
    run.communicate()
    assert run.returncode == 128 + ending
    assert "closed" in log.read_text("utf-8")


FAULTY = """
import rewire.compare as room
def broken(*_):
    raise RuntimeError("a fault of ours")
room.compare = broken
from rewire.cli import main
import sys
sys.argv = ["rewire", "check", {file!r}]
main()
"""


def test_a_fault_of_the_program_is_no_answer(tmp_path: Path) -> None:
    """EX_SOFTWARE of sysexits.h is 70; 1 would say that a wiring is broken."""
    code = FAULTY.format(file=written(tmp_path, small()))
    done = subprocess.run(
        [sys.executable, "-c", code], capture_output=True, encoding="utf-8", check=False
    )
    assert done.returncode == 70
    assert "RuntimeError: a fault of ours" in done.stderr


def test_four_landings_written_at_once_are_all_there(tmp_path: Path) -> None:
    file = tmp_path / "spec.yaml"
    file.write_text(Path(LANDS).read_text("utf-8"), "utf-8")
    names = [f"try{n}" for n in range(4)]
    line = ("fit", str(file), "--replace", "S2", "--switch", "SPDT", "--timing", "non-shorting")
    runs = [started(*line, "--write", name) for name in names]
    ends = [(run.communicate(), run.returncode) for run in runs]
    assert [code for _, code in ends] == [0] * 4, ends
    said = file.read_text("utf-8")
    assert all(re.search(rf"^  {name}:$", said, re.MULTILINE) for name in names)


def test_a_pipe_that_nobody_writes_to_is_given_up(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    from rewire.reading import text as load

    monkeypatch.setattr(load, "_PATIENCE", 0.2)
    pipe = tmp_path / "pipe"
    os.mkfifo(pipe)
    done = rewire("check", str(pipe))
    assert done.exit_code == 2
    assert "nothing comes out of this pipe" in done.stderr


def test_a_spec_may_come_out_of_a_pipe_or_standard_input(tmp_path: Path) -> None:
    pipe = tmp_path / "pipe"
    os.mkfifo(pipe)
    data = as_yaml(small())
    writer = threading.Thread(target=pipe.write_bytes, args=(data,))
    writer.start()
    assert rewire("check", str(pipe)).exit_code == 0
    writer.join()
    done = CliRunner().invoke(group, ["check", "-"], input=data)
    assert (done.exit_code, done.stdout.splitlines()[0][:5]) == (0, "KEPT:")


def test_no_bound_is_null_in_json_and_said_in_words(tmp_path: Path) -> None:
    meter = {"meter": "1 mA", "resistance": "100 ohm", "resistance_tolerance": "100 %"}
    wiring = {"parts": {"M1": meter}, "wires": [["X", "M1.+"], ["M1.-", "CH"]]}
    readings = {"v": {"voltage": ["X", "CH"], "full_scale": "100 mV"}}
    file = written(tmp_path, bare(original=wiring, substitute=wiring) | {"readings": readings})
    done = rewire("values", file, "--json")
    (result,) = json.loads(done.stdout, parse_constant=pytest.fail)["results"]
    (reading,) = result["readings"]
    assert reading["worst_high_percent"] is None
    said = rewire("values", file).stdout
    assert "no bound" in said
    assert "inf" not in said.replace("information", "")
    sums = ("--meter", "1 mA", "--resistance", "100", "--resistance-tolerance", "100 %", "--json")
    for line in (("shunt", *sums, "10 mA"), ("multiplier", *sums, "10 V")):
        json.loads(rewire(*line).stdout, parse_constant=pytest.fail)


def test_a_figure_that_may_be_zero_gives_no_meter() -> None:
    line = ("identify", "meter", "--volts", "50 mV", "--amps", "1 mA", "--volts-off", "100 %")
    done = rewire(*line)
    assert done.exit_code in (1, 2), done.exception
    assert isinstance(done.exception, SystemExit)


@pytest.mark.parametrize(("limit", "status"), [("inf", 2), ("nan", 2), ("1e12", 0)])
def test_a_time_limit_is_a_time(limit: str, status: int) -> None:
    line = ("fit", LANDS, "--replace", "S2", "--switch", "SPDT", "--timing", "non-shorting")
    done = rewire(*line, "--time-limit", limit)
    assert done.exit_code == status, done.stderr
    assert "Traceback" not in done.stderr


def test_help_into_a_pipe_that_is_closed_says_nothing() -> None:
    line = f"{sys.executable} -m rewire check --help | true; echo ${{PIPESTATUS[0]}}"
    done = subprocess.run(
        ["bash", "-c", line], capture_output=True, encoding="utf-8", check=False, cwd=ROOT
    )
    assert done.stderr == ""
    assert done.stdout in ("141\n", "0\n")  # 0 where the pipe was closed after all was written


def test_a_folder_that_is_gone_is_said_to_be_gone(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    file = written(tmp_path, small())
    gone = tmp_path / "gone"
    gone.mkdir()
    monkeypatch.chdir(gone)
    gone.rmdir()
    done = rewire("draw", file, "--view", "lugs")
    assert done.exit_code == 2
    assert "the folder you are in is gone" in done.stderr


def test_nothing_to_draw_is_said(tmp_path: Path) -> None:
    empty = {"rewire": "1", "title": "t", "wirings": {"original": "", "new": ""}}
    file, place = written(tmp_path, empty), str(tmp_path / "x.pdf")
    done = rewire("draw", file, "--view", "lugs", "-o", place)
    assert done.exit_code == 2
    assert "there is nothing to draw" in done.stderr


def test_a_picture_is_of_the_kind_that_its_name_says(tmp_path: Path) -> None:
    done = rewire("draw", FLAGSHIP, "-o", str(tmp_path / "x.png"), "--format", "pdf")
    assert done.exit_code == 2
    assert "ends in .png, but --format is pdf" in done.stderr
    assert list(tmp_path.iterdir()) == []


@pytest.mark.parametrize(
    ("found", "status"),
    [("250", 2), ("25 V", 2), ("nan", 2), ("25 W", 0), ("35 W", 1), ("pass", 0), ("it hums", 0)],
)
def test_what_was_found_has_the_unit_that_was_expected(
    tmp_path: Path, found: str, status: int
) -> None:
    expected = [{"test": "output", "expect": "20 W to 30 W"}]
    file = written(tmp_path, small(acceptance=expected))
    tested = [{"test": "output", "found": found}]
    log = {"rewire_bench": "1", "wiring": "substitute", "acceptance": tested}
    done = rewire("buzz", file, "--found", written(tmp_path, log, "log.yaml"))
    assert done.exit_code == status, done.stderr
    if status == 2:
        assert "W is expected" in done.stderr or "W' is expected" in done.stderr


def test_an_image_under_many_notes_is_read_once(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    from PIL import Image

    Image.new("L", (60, 80), 255).save(tmp_path / "scan.png")
    page = {"image": "scan.png", "notes": [{"at": ["0.5", "0.5"], "text": "here"}]}
    file = written(tmp_path, small(pages=[page] * 5))
    read: list[Path] = []
    real = images._bytes_of

    def count(place: Path) -> bytes:
        read.append(place)
        return real(place)

    monkeypatch.setattr(images, "_bytes_of", count)
    done = rewire("draw", file, "--view", "pages", "-o", str(tmp_path / "x.pdf"))
    assert done.exit_code == 0, done.stderr
    assert len(read) == 1
