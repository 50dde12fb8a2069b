"""`rewire check` from outside: what it prints, where, and how it ends."""

from __future__ import annotations

import json
import os
import pty
import re
import subprocess
import sys
from collections.abc import Sequence
from pathlib import Path

import pytest
from click.testing import CliRunner, Result

from rewire.bench.starters import starter
from rewire.cli import rewire as group

ROOT = Path(__file__).parents[2]
FLAGSHIP = str(ROOT / "specs" / "valve-amplifier.yaml")
SHIPPED = sorted((ROOT / "specs").glob("*.yaml"))

# A double-pole switch of the invented set: pole A feeds the lamp circuit, pole B the relay coil.
SPEC = """
rewire: 1
title: {title}
controls:
  MODE: [IDLE, RUN]
points:
  FEED: {{}}
  COIL: {{}}
  CHASSIS: {{chassis: yes}}
wirings:
  original:
    parts:
      S1: {{switch: DPDT, control: MODE, timing: non-shorting}}
    wires:
      - [FEED, S1.A]
      - [S1.A2, COIL]
  planned:
    parts:
      S2: {{switch: SPDT, control: MODE, timing: non-shorting}}
    wires: [{wires}]
"""
KEPT = "[FEED, S2.A], [S2.A2, COIL]"
BROKEN = "[FEED, S2.A], [S2.A1, CHASSIS]"


def rewire(*args: str) -> Result:
    """A command run in this process, on one processor: quick."""
    return CliRunner().invoke(group, [*args, "--jobs", "1"])


def process(*args: str, **environment: str) -> subprocess.CompletedProcess[str]:
    """A command as a program of its own."""
    return subprocess.run(
        [sys.executable, "-m", "rewire", *args],
        capture_output=True,
        encoding="utf-8",
        check=False,
        env={**os.environ, **environment},
    )


@pytest.fixture
def spec(tmp_path: Path) -> object:
    def write(name: str, wires: str, title: str = "a switch") -> str:
        path = tmp_path / name
        path.write_text(SPEC.format(title=title, wires=wires), encoding="utf-8")
        return str(path)

    return write


@pytest.fixture
def kept(spec) -> str:  # type: ignore[no-untyped-def]
    return spec("kept.yaml", KEPT)


@pytest.fixture
def broken(spec) -> str:  # type: ignore[no-untyped-def]
    return spec("broken.yaml", BROKEN)


@pytest.fixture
def unreadable(spec) -> str:  # type: ignore[no-untyped-def]
    return spec("unreadable.yaml", "[FEED, S2.Z9], [NOWHERE, COIL]")


@pytest.fixture
def too_large(tmp_path: Path) -> str:
    """Seven ten-position switches in a row between two points: ten million positions meet."""
    rows = range(7)
    controls = "\n".join(f"  K{i}: [{', '.join(f'P{p}' for p in range(10))}]" for i in rows)
    parts = "\n".join(
        f"      S{i}: {{switch: SP10T, control: K{i}, timing: shorting}}" for i in rows
    )
    throws = "\n".join(f"      - [S{i}.A{t}, S{i + 1}.A]" for i in range(6) for t in range(1, 10))
    wiring = f"    parts:\n{parts}\n    wires:\n      - [X, S0.A]\n      - [S6.A1, Y]\n{throws}\n"
    path = tmp_path / "large.yaml"
    path.write_text(
        f"rewire: 1\ntitle: large\ncontrols:\n{controls}\npoints:\n  X: {{}}\n  Y: {{}}\n"
        f"wirings:\n  original:\n{wiring}  planned:\n{wiring.replace('S6.A1', 'S6.A2')}",
        encoding="utf-8",
    )
    return str(path)


def test_kept_is_said_first_and_ends_with_0(kept: str) -> None:
    done = rewire("check", kept)
    assert done.exit_code == 0, done.stderr
    first, following, *_ = done.stdout.splitlines()
    assert first == "KEPT: planned keeps every original connection"
    assert following.startswith("Next: rewire sheet")  # nothing is read in it


@pytest.mark.parametrize(("value", "what"), [
    ("1 ohm", "errors and ratings"), ("fit, for: valve_1", "what to fit and set"),
])  # fmt: skip
def test_values_are_announced_with_what_they_will_say(
    value: str, what: str, tmp_path: Path
) -> None:
    file = tmp_path / "swap.yaml"
    text = starter("meter-switch", file.name)
    file.write_text(text.replace("R1: {resistor: 1 ohm", f"R1: {{resistor: {value}"), "utf-8")
    said = " ".join(rewire("check", str(file)).stdout.split())
    assert f"Next: rewire values {file} ({what})" in said
    values = CliRunner().invoke(group, ["values", str(file)])
    assert values.exit_code == 0
    assert ("fit R1 " in values.stdout) == ("fit" in what)


def test_broken_is_said_first_with_what_and_when_and_ends_with_1(broken: str) -> None:
    done = rewire("check", broken)
    assert done.exit_code == 1, done.stderr
    first, second, *rest = done.stdout.splitlines()
    # By hand: in RUN, FEED-COIL is gone; in IDLE, FEED is shorted to CHASSIS.
    assert first.startswith("BROKEN: planned has 2 faults: COIL and FEED disconnected")
    assert second.startswith("Next: mend planned")
    text = " ".join(" ".join(rest).split())
    assert "1. COIL and FEED disconnected (MODE: RUN) was COIL – S1.A2 – S1.A – FEED" in text
    assert "2. CHASSIS and FEED shorted to each other (MODE: IDLE)" in text


def test_the_flagship_names_the_dropped_path_in_the_right_positions() -> None:
    done = rewire("check", FLAGSHIP, "--json")
    assert done.exit_code == 0, done.stderr
    results = {result["wiring"]: result for result in json.loads(done.stdout)["results"]}
    assert results["as-found"]["verdict"] == "broken"
    assert results["substitute"]["verdict"] == "changed"
    # The third pole of the original brings the bias return to chassis in these two positions.
    dropped = [
        finding
        for finding in results["as-found"]["findings"]
        if finding["kind"] == "dropped"
        and {"BIAS_RETURN", "CHASSIS"} <= {name for group in finding["groups"] for name in group}
    ]
    assert {state["METER"] for finding in dropped for state in finding["states"]} == {
        "CATHODE",
        "SCREEN",
    }


def test_several_specs_give_a_line_each_in_the_order_asked(kept: str, broken: str) -> None:
    done = process("check", broken, kept, broken, "--jobs", "2", COLUMNS="100")
    assert done.returncode == 1, done.stderr
    lines = " ".join(done.stdout.split())
    order = [lines.index(f"BROKEN: {broken}"), lines.index(f"KEPT: {kept}")]
    assert order == sorted(order)
    assert lines.rindex(f"BROKEN: {broken}") > order[1]


def test_many_processes_say_what_one_says(kept: str, broken: str, unreadable: str) -> None:
    files = [kept, broken, unreadable, kept]
    one, many = (process("check", "--json", *files, "--jobs", jobs) for jobs in ("1", "3"))
    assert (one.returncode, one.stdout, one.stderr) == (many.returncode, many.stdout, many.stderr)


def test_one_spec_is_one_document_several_are_a_list(kept: str, broken: str) -> None:
    alone = [json.loads(rewire("check", "--json", file).stdout) for file in (kept, broken)]
    together = json.loads(rewire("check", "--json", kept, broken).stdout)
    assert together == alone
    assert [document["spec"] for document in together] == [kept, broken]


def test_a_bad_spec_holds_its_place_among_good_ones(kept: str, unreadable: str) -> None:
    done = rewire("check", "--json", kept, unreadable, kept)
    assert done.exit_code == 2
    first, bad, last = json.loads(done.stdout)
    assert first == last
    assert bad["spec"] == unreadable
    assert [*bad] == ["rewire", "command", "spec", "errors"]
    assert len(bad["errors"]) == 2
    lines = Path(unreadable).read_text(encoding="utf-8").splitlines()
    for error, name in zip(bad["errors"], ["S2.Z9", "NOWHERE"], strict=True):
        assert lines[error["line"] - 1][error["column"] - 1 :].startswith(name)
    for line in done.stderr.splitlines():
        assert line.startswith(f"{unreadable}:")
    assert len(done.stderr.splitlines()) == 2


@pytest.mark.parametrize(
    ("content", "said"),
    [
        (None, "No such file"),
        (b"\xff\xfe\x00", "UTF-8"),
        (b"title: [", ""),
        (b"\x00", ""),
        (b"", ""),
    ],
)
def test_what_cannot_be_read_is_one_line_each_and_never_a_traceback(
    tmp_path: Path, content: bytes | None, said: str
) -> None:
    path = tmp_path / "bad.yaml"
    if content is not None:
        path.write_bytes(content)
    done = rewire("check", str(path))
    assert done.exit_code == 2
    assert done.stdout == ""
    assert said in done.stderr
    assert done.stderr
    for line in done.stderr.splitlines():
        assert line.startswith(str(path))


def test_a_folder_in_the_place_of_a_spec_is_named(tmp_path: Path) -> None:
    done = rewire("check", str(tmp_path))
    assert done.exit_code == 2
    assert done.stderr.count("\n") == 1
    assert str(tmp_path) in done.stderr


def test_an_unknown_wiring_is_answered_with_the_nearest(kept: str) -> None:
    done = rewire("check", kept, "--wiring", "plannned")
    assert done.exit_code == 2
    assert "nearest is 'planned'" in done.stderr


@pytest.mark.parametrize(("rule", "status", "verdict"), [
    ("connect: [A, B]", 1, "BROKEN: original has 1 fault: rule 1: A and B must be connected\n"),
    ("isolate: [A, B]", 0, "KEPT: original keeps every rule of the spec"),
])  # fmt: skip
def test_the_original_is_held_to_the_rules(
    rule: str, status: int, verdict: str, tmp_path: Path
) -> None:
    path = tmp_path / "ruled.yaml"
    path.write_text(
        "rewire: 1\ntitle: ruled\ncontrols: {K: [P, Q]}\npoints: {A: {}, B: {}}\n"
        f"rules: [{{{rule}}}]\nwirings:\n  original: {{}}\n  planned: {{}}\n",
        "utf-8",
    )
    done = rewire("check", str(path), "--wiring", "original")
    assert done.exit_code == status, done.stderr
    assert done.stdout.startswith(verdict)
    both = rewire("check", str(path), "--wiring", "original", "--wiring", "planned", "--json")
    first, second = json.loads(both.stdout)["results"]
    assert (first["wiring"], second["wiring"]) == ("original", "planned")
    assert first["findings"] == second["findings"]
    default = json.loads(rewire("check", str(path), "--json").stdout)["results"]
    assert [result["wiring"] for result in default] == ["planned"]


def test_an_original_alone_without_rules_is_not_called_kept(kept: str, tmp_path: Path) -> None:
    """A pass that nothing could have failed would lull somebody who forgot his plan."""
    path = tmp_path / "alone.yaml"
    alone = "rewire: 1\ntitle: alone\npoints: {A: {}, B: {}}\nwirings: {original: {}}\n"
    path.write_text(alone, "utf-8")
    done = rewire("check", str(path))
    assert done.exit_code == 0
    assert done.stdout.startswith("NOTHING TO COMPARE YET: only the original is there\n")
    assert "KEPT" not in rewire("check", str(path), "--full").stdout
    among = rewire("check", str(path), kept).stdout
    assert f"NOTHING TO COMPARE YET: {path}: original is alone" in among
    path.write_text(f"{alone}rules: [{{isolate: [A, B]}}]\n", "utf-8")
    assert rewire("check", str(path)).stdout.startswith("KEPT: original keeps every rule")


def test_one_wiring_can_be_asked_for() -> None:
    done = rewire("check", FLAGSHIP, "--json", "--wiring", "substitute")
    assert [result["wiring"] for result in json.loads(done.stdout)["results"]] == ["substitute"]
    assert done.exit_code == 0, done.stderr


def test_a_question_beyond_the_limit_ends_with_3_and_says_which(
    too_large: str, broken: str, unreadable: str
) -> None:
    done = rewire("check", too_large)
    assert done.exit_code == 3
    assert "1,000,000" in done.stderr
    assert "K0" in done.stderr
    both = rewire("check", "--json", broken, too_large)
    assert both.exit_code == 3
    assert "1,000,000" in json.loads(both.stdout)[1]["limit"]
    assert rewire("check", too_large, unreadable, broken).exit_code == 2


def test_a_title_cannot_drive_the_terminal(spec) -> None:  # type: ignore[no-untyped-def]
    file = spec("b\x1b[31m\u202e.yaml", "[FEED, S2.Z9]")
    done = process("check", file)
    assert done.returncode == 2
    assert "\x1b" not in done.stderr
    assert "\u202e" not in done.stderr
    assert "b‹U+001B›[31m‹U+202E›.yaml" in done.stderr


def test_an_encoding_without_the_letters_is_no_error(broken: str) -> None:
    plain = process("check", broken)
    ascii_only = process("check", broken, PYTHONIOENCODING="ascii")
    assert ascii_only.returncode == 1
    assert ascii_only.stdout == plain.stdout.encode("ascii", "backslashreplace").decode()
    assert ascii_only.stdout != plain.stdout


def test_a_reader_that_stops_reading_ends_it_quietly() -> None:
    command = [sys.executable, "-m", "rewire", "check", FLAGSHIP]
    running = subprocess.Popen(command, stdout=subprocess.PIPE, stderr=subprocess.PIPE)
    assert running.stdout is not None
    running.stdout.close()
    assert running.stderr is not None
    said = running.stderr.read()
    running.stderr.close()
    assert running.wait() == 141
    assert said == b""


def test_a_full_disk_under_standard_output_is_said_in_one_line(kept: str) -> None:
    with open("/dev/full", "w") as full:  # noqa: PTH123  a device
        done = subprocess.run(
            [sys.executable, "-m", "rewire", "check", kept],
            stdout=full,
            stderr=subprocess.PIPE,
            text=True,
            check=False,
        )
    assert done.returncode == 2
    assert done.stderr == "standard output: No space left on device\n"


def on_a_terminal(args: Sequence[str], stream: str, **environment: str) -> str:
    """What a command writes to one of its streams when that one is a terminal."""
    ours, theirs = pty.openpty()
    other = "stderr" if stream == "stdout" else "stdout"
    running = subprocess.Popen(
        [sys.executable, "-m", "rewire", *args],
        env={**os.environ, "TERM": "xterm", **environment},
        **{stream: theirs, other: subprocess.DEVNULL},  # type: ignore[call-overload]
    )
    os.close(theirs)
    chunks = []
    while True:
        try:
            chunk = os.read(ours, 4096)
        except OSError:  # Linux: how the end of a terminal is read (EIO)
            break
        if not chunk:
            break
        chunks.append(chunk)
    os.close(ours)
    running.wait()
    return b"".join(chunks).decode()


def test_colour_on_a_terminal_and_never_with_no_color(
    broken: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.delenv("NO_COLOR", raising=False)
    assert "\x1b[" in on_a_terminal(["check", broken], "stdout")
    assert "\x1b[" not in on_a_terminal(["check", broken], "stdout", NO_COLOR="1")
    assert "\x1b[" not in rewire("check", broken).stdout


def test_progress_is_shown_on_a_terminal_alone(kept: str, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.delenv("NO_COLOR", raising=False)
    assert "checking" in on_a_terminal(["check", kept, kept, kept], "stderr")
    assert "checking" not in on_a_terminal(["check", kept], "stderr")
    assert process("check", kept, kept, kept).stderr == ""


def test_help_says_what_the_exit_status_means() -> None:
    said = process("check", "--help").stdout
    assert "Exit status" in said
    assert "array" in said


def test_one_note_about_several_places_is_said_once_and_names_them_all(tmp_path: Path) -> None:
    path = tmp_path / "mega.yaml"
    path.write_text(
        "rewire: 1\ntitle: mega\ncontrols: {K: [P, Q]}\npoints: {A: {}, B: {}}\nparts:\n"
        "  R1: {resistor: 1M, between: [A, B]}\n  R2: {resistor: 1M, between: [A, B]}\n"
        "  R3: {resistor: 2M, between: [A, B]}\nwirings:\n  original: {}\n  planned: {}\n",
        "utf-8",
    )
    first, second = rewire("check", str(path)).stderr.splitlines()
    assert first.startswith(f"{path}:6:18: note: '1M'")
    assert first.endswith("(also at 7:18)")
    assert second.startswith(f"{path}:8:18: note: '2M'")
    assert "also" not in second


def test_a_limit_in_one_wiring_does_not_keep_the_others_away(too_large: str) -> None:
    head, planned = Path(too_large).read_text("utf-8").split("  original:\n")[0:2]
    text = f"{head}  original: {{}}\n  loose: {{}}\n  planned:\n{planned.split('  planned:')[0]}"
    Path(too_large).write_text(text, "utf-8")
    done = rewire("check", too_large, "--json")
    document = json.loads(done.stdout)
    assert [r["wiring"] for r in document["results"]] == ["loose"]
    assert document["limit"].startswith("planned: ")
    assert done.exit_code == 3  # the other plan is not settled
    assert "planned left out" in done.stderr
    assert rewire("check", too_large, "--wiring", "loose").exit_code == 0
    found = text.replace("  planned:\n", "  planned:\n    role: found\n")
    Path(too_large).write_text(found, "utf-8")
    assert rewire("check", too_large).exit_code == 0  # what was found is not asked for


@pytest.mark.parametrize("path", SHIPPED, ids=lambda path: path.stem)
def test_a_found_wire_has_only_the_number_of_its_label(path: Path) -> None:
    """Labels on the bench bear the plan's numbers; here its wires are told by their colours."""
    for result in json.loads(rewire("check", str(path), "--json").stdout)["results"]:
        told = " ".join(str(finding["now"]) for finding in result["findings"])
        numbers = re.findall(r"(?:wire|jumper) [A-Z]+\d+", told)
        assert result["role"] == "plan" or not numbers


def test_a_found_wire_is_named_by_its_colour() -> None:
    told = rewire("check", "--full", str(ROOT / "specs" / "relay-and-switch.yaml")).stdout
    assert "TX_HT – wire RDBU – K1.B2 – K1.B – K1.B1 – wire RDWH – RX_HT" in " ".join(told.split())


@pytest.mark.parametrize("path", SHIPPED, ids=lambda path: path.stem)
def test_a_report_is_one_screen_and_its_head_says_what_to_do_next(path: Path) -> None:
    """The plans first, what was found after them; the evidence stands behind --full."""
    lines = rewire("check", str(path)).stdout.splitlines()
    assert len(lines) <= 25
    head = lines[: next(n for n, line in enumerate(lines) if not line)]
    assert re.match("(KEPT|CHANGED): ", head[0])
    assert sum(line.startswith("Next: rewire ") for line in head) == 1
    headings = [line for line in lines if line.endswith(":") and not line.startswith(" ")]
    assert [*headings] == sorted(headings, key=lambda line: "as-found" in line or "try" in line)
    full = rewire("check", "--full", str(path)).stdout.splitlines()
    assert len(full) > len(lines)
