"""`rewire new --ask`: what is told at the bench becomes a spec that reads, checks and prints."""

from __future__ import annotations

import json
import os
import pty
import re
import select
import signal
import subprocess
import sys
from pathlib import Path

import pytest
from click.testing import CliRunner, Result
from hypothesis import given, settings, strategies as st

from rewire.bench.by_hand import spec_text
from rewire.bench.interview import stage_after
from rewire.bench.told import point_told
from rewire.cli import rewire as group
from rewire.reading import read_spec, read_text
from rewire.records.switches import Switch
from rewire.words.wording import Wrong

GUIDE = """\
Meter switch of a telephone exchange's battery panel
Battery panel of a small exchange: one meter, one knob, three ranges
METER
VOLTS, LOAD, CHARGE
S1
3 pole 3 way
rotary
non-shorting

1

RD M1.+

R3.1

RD BATTERY

white RECTIFIER

BK M1.-

EARTH

YE EXCHANGE

red BATTERY

VT ALARM

bare S1.C2

EARTH


1 mA, 100 ohm, 2 %, 2 %


59.9 kohm, 1 %, 0.5 W

RD BATTERY


R1 BATTERY EXCHANGE
10 mohm, 0.5 %, 5 W
R2 RECTIFIER BATTERY
20 mohm, 0.5 %, 5 W

EARTH
no
52 V, 58 V, 0.05 ohm, busbar
53 V, 70 V, 1 ohm, plus tag
51.9 V, 58 V, 0.06 ohm, fuse F2
0 V, 52 V, 400 ohm, coil of the bell relay
volts BATTERY EARTH
60 V, 0-60
current BATTERY EXCHANGE
10 A, 0-10
current RECTIFIER BATTERY
5 A, 0-5
yes
S1 is DP3T, non-shorting
out EARTH cut
out EARTH S1.B1
in S1.B1 EARTH BK

3P4T
non-shorting
yes
"""
"""The swap of docs/guide.md: what its chapter 1 has somebody write down at the chassis."""
METER = GUIDE.splitlines().index("1 mA, 100 ohm, 2 %, 2 %")
WAFERS = """\
Meter switch of an invented exciter, three wafers

METER
GRID, ANODE, HT
S4
ohmmeter
1 2 3 4 5 6 7 8 9 10 11 12
1 2, 5 6, 9 10
1 3, 5 7, 9 11
1 4, 5 8, 9 12

rotary
1 non-shorting, 5 non-shorting, 9 shorting
3

M1.+

YE GRID

RD ANODE

R8.1

BK M1.-

RETURN

CATHODE

CHASSIS

VT SCREEN_RETURN

bare S4.11

bare S4.12

GN CHASSIS

1 mA, 100 ohm


600 kohm, 1 %

HT



CHASSIS
no
-20 V
400 V

20 V
40 V
600 V, 750 V



no

"""
"""Three wafers, one pole each, found with the ohmmeter."""


def rewire(*args: str, told: str = "") -> Result:
    return CliRunner().invoke(group, list(args), input=told, env={"COLUMNS": "80"})


@pytest.fixture(autouse=True)
def folder(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    monkeypatch.chdir(tmp_path)
    return tmp_path


def findings(file: str, wiring: str) -> tuple[str, set[str]]:
    done = rewire("check", file, "--wiring", wiring, "--json")
    assert done.stderr == ""  # no note of the reader
    (result,) = json.loads(done.stdout)["results"]
    kinds = {one["kind"] for one in result["findings"]}
    return result["verdict"], kinds - {"spare", "altered"}


def test_the_guides_swap_is_told_and_fitted(folder: Path) -> None:
    done = rewire("new", "mine.yaml", "--ask", told=GUIDE)
    assert done.exit_code == 0, done.stderr
    assert [path.name for path in folder.iterdir()] == ["mine.yaml"]  # no answers are left
    assert findings("mine.yaml", "as-found") == ("broken", {"dropped"})
    assert findings("mine.yaml", "planned") == ("kept", set())
    spec = read_spec("mine.yaml")
    assert [wire.ends for wire in spec.wirings["as-found"].cut_wires] == [("ALARM", "cut")]
    assert spec.points["BATTERY"].rises_to == 58.0
    assert rewire("values", "mine.yaml", "--wiring", "original").exit_code == 0


def test_three_wafers_found_with_the_ohmmeter() -> None:
    done = rewire("new", "mine.yaml", "--ask", told=WAFERS)
    assert done.exit_code == 0, done.stderr
    assert "a 3P3T; common 1 to 2, 3 and 4" in done.stderr
    assert findings("mine.yaml", "original") == ("kept", set())
    switch = read_spec("mine.yaml").original.parts["S4"]
    assert isinstance(switch, Switch)
    assert switch.poles == (("1", "2", "3", "4"), ("5", "6", "7", "8"), ("9", "10", "11", "12"))
    assert [section.timing for section in switch.sections] == ["non-shorting"] * 2 + ["shorting"]
    assert switch.layout is not None
    assert switch.layout.decks == 3


def test_an_original_alone_is_worth_telling(folder: Path) -> None:
    """What it reads, what it must read on the ohmmeter, its card; then a switch for it."""
    alone = GUIDE[: GUIDE.index("yes\nS1 is DP3T")] + "no\n\n"
    assert rewire("new", "mine.yaml", "--ask", told=alone).exit_code == 0
    values = rewire("values", "mine.yaml").stdout
    assert values.startswith("GOOD: original: volts, load and charge read right.")
    assert " was" not in values.splitlines()[3]  # nothing was before it
    assert rewire("buzz", "mine.yaml").stdout.startswith("original: power off")
    assert rewire("draw", "mine.yaml", "--view", "lugs").exit_code == 0
    assert list(folder.glob("mine-lugs*.pdf"))
    fitted = rewire("fit", "mine.yaml", "--switch", "3P4T", "--timing", "non-shorting")
    assert fitted.stdout.startswith("FITS: 3P4T takes the place of S1: 8 wires, 3 jumpers")


def test_a_plan_told_by_its_differences() -> None:
    """Another meter with a pot in its lead, a slip of the pen, a point that is new."""
    told = (
        GUIDE[: GUIDE.index("yes\nS1 is DP3T")]
        + """no
differences
S1 is 3P4T, shorting
M2 replaces M1: 500 uA, 120 ohm, 10 %, 2 %
out S1.A M2.+
in S1.A RV1.ccw RD
200 ohm, 10 %, 0.5 W
in RV1.wiper M2.+
cut S1.C ALARM
in S1.C ALRM VT
ALARM
in S1.C3 LAMP_TAG

6.3 V, 8 V, lamp board
"""
    )
    done = rewire("new", "mine.yaml", "--ask", told=told)
    assert done.exit_code == 0, done.stderr
    verdict, kinds = findings("mine.yaml", "planned")
    assert verdict == "broken"
    assert "inserted" in kinds
    spec = read_spec("mine.yaml")
    plan = spec.wirings["planned"]
    assert (
        "switch: 3P4T, control: METER, style: rotary, timing: shorting"
        in Path("mine.yaml").read_text()
    )
    assert plan.parts["M2"].replaces == {"+": "M1.+", "-": "M1.-"}
    assert ("S1.C", "ALARM") in {wire.ends for wire in plan.wires}
    assert spec.points["LAMP_TAG"].rises_to == 8.0


def test_what_was_told_is_kept_and_taken_back(folder: Path) -> None:
    """Broken off, a slip taken back, gone on with from the kept file: the same spec as at once."""
    lines = GUIDE.replace("non-shorting\nyes\n", "non-shorting\nno\n").splitlines(keepends=True)
    first = "".join(lines[:20]) + "BU EARTH\n?\nback\n" + "".join(lines[20:31])
    broken_off = rewire("new", "mine.yaml", "--ask", told=first)
    assert broken_off.exit_code == 2
    assert "not written: no answer to: S1.C2 (pole C, throw 2" in broken_off.stderr
    kept = (folder / "mine.yaml.answers").read_text()
    (folder / "copy.txt").write_text(kept)
    rest = "".join(lines[31:])
    assert rewire("new", "mine.yaml", "--ask", told=rest).exit_code == 0
    assert not (folder / "mine.yaml.answers").exists()
    other = rewire("new", "copy/mine.yaml", "--ask", told=rest)
    assert "the folder copy does not exist" in other.stderr
    (folder / "copy").mkdir()
    assert rewire("new", "copy/mine.yaml", "--answers", "copy.txt", told=rest).exit_code == 0
    (folder / "once").mkdir()
    (folder / "once" / "told.txt").write_text("".join(lines))
    assert rewire("new", "once/mine.yaml", "--answers", "once/told.txt").exit_code == 0
    texts = {path.read_text() for path in folder.rglob("mine.yaml")}
    assert len(texts) == 1


@pytest.mark.parametrize(
    ("before", "answer", "said"),
    [
        (0, "", "an answer is needed here"),
        (2, "2nd knob", "'2nd knob' cannot be a name; a name begins with a letter"),
        (5, "two pairs", "'two pairs' is not a switch form; write poles and throws"),
        (6, "round", "'round' is not known here; write 'rotary', 'toggle'"),
        (7, "slow", "timing: 'slow' is not a timing; write one of non-shorting, shorting, unknown"),
        (8, "1 2, 4 5", "3 poles of 4 lugs each are needed, you gave 2 and 2; write 1 2 3 4, 5 6"),
        (9, "0", "'0' is not a number of decks; 1 to 60 can be"),
        (11, "R3", "'R3' is a part, and has lugs; write R3.1 or R3.2, new"),
        (11, "R3.5", "'R3' has no lug '5'"),
        (11, "S1.A9", "'S1' has no lug 'A9'; its lugs are A, A1"),
        (11, "M1.+ S1.A purple RD", "is more than a colour and where it goes; one wire a line"),
        (11, "mauve M1.+", "these are not letters of IEC 60757"),
        (11, "S1.A", "both ends of this wire are 'S1.A'"),
        (METER, "1,5 mA, 100 ohm", "'1,5' has a comma in the number; write 1.5; put a space after"),
        (METER, "1 mA, 100 V", "resistance: '100 V' is in volts; a resistance is needed here"),
        (METER, "", "an answer is needed here"),
    ],
)  # fmt: skip
def test_what_cannot_be_is_refused_as_a_spec_would_be(
    folder: Path, before: int, answer: str, said: str
) -> None:
    lines = GUIDE.splitlines()[:before]
    done = rewire("new", "mine.yaml", "--ask", told="\n".join([*lines, answer]) + "\n")
    assert done.exit_code == 2
    last = done.stderr.splitlines()[-1]
    assert last.startswith(f"standard input: answer {before + 1}: "), last
    assert said in last
    assert not (folder / "mine.yaml").exists()


@pytest.mark.parametrize(("positions", "form", "throws"), [
    ("A, OFF, B", "DPDT (on)-off-(on)", ["1", "open", "2"]),
    ("A, OFF, B", "on-off-mom", ["1", "open", "2"]),
    ("A, OFF, B", "DP on-off-(on)", ["1", "open", "2"]),
    ("A, OFF, B", "DPDT", ["1", "open", "2"]),
    ("off, A, B", "SPDT centre off", ["open", "1", "2"]),
    ("UP, MIDDLE, DOWN", "SPDT centre off", ["1", "open", "2"]),
    ("A, B, C", "DPDT", ["1", "2", "open"]),
])  # fmt: skip
def test_a_position_that_is_off_has_no_throw_unless_it_is_told(
    positions: str, form: str, throws: list[str]
) -> None:
    told = ["Job", "", "K", positions, "S1", form, "", "toggle"]
    block = stage_after(told).draft.original["parts"]["S1"]
    assert list(block["positions"].values()) == throws


@pytest.mark.parametrize("positions", ["A, B", "A, B, C, D"])
def test_a_centre_that_is_off_is_never_lost(positions: str) -> None:
    with pytest.raises(Wrong, match="centre off has 3 positions, K has"):
        stage_after(["Job", "", "K", positions, "S1", "toggle on-off-on"])


def test_own_numbers_of_lugs_go_with_a_timing_told_by_poles() -> None:
    numbers = "10 1 2 3, 11 4 5 6, 12 7 8 9"
    told = ["Job", "", "K", "A, B, C", "S1", "3P3T", "rotary", "A non-shorting, C shorting"]
    block = stage_after([*told, numbers]).draft.original["parts"]["S1"]
    assert block["timing"] == {"10": "non-shorting", "12": "shorting"}


@pytest.mark.parametrize("ohms", ["2k2", "2.2k", "2.2 kohm", "2200 ohm", "4M7", "2R2", "1 MΩ"])
def test_what_stands_behind_a_voltage_is_told_as_a_resistor_is(ohms: str) -> None:
    assert point_told(f"250 V, 320 V, {ohms}, tag 3") == {
        "volts": "250 V", "rises_to": "320 V", "source_resistance": ohms, "where": "tag 3",
    }  # fmt: skip


@pytest.mark.parametrize(("answer", "points"), [
    ("EARHT", ["EARHT", "EARHT"]), ("new", ["EARHT", "EARTH"]), ("EARTH", ["EARTH", "EARTH"]),
])  # fmt: skip
def test_of_two_names_alike_either_may_be_the_slip(answer: str, points: list[str]) -> None:
    told = ["Job", "", "K", "A, B", "S1", "SPDT", "toggle", *[""] * 3, "EARHT", "", "EARTH", answer]
    wires = stage_after(told).draft.original["wires"]
    assert [wire[1] for wire in wires] == points


@pytest.mark.parametrize(("said", "style", "timing"), [
    ("SP3T MBB", "rotary", "shorting"),
    ("DP3T slide, non-shorting", "slide", "non-shorting"),
    ("4P4T rotary, two wafers, C shorting", "rotary", {"C": "shorting"}),
])  # fmt: skip
def test_style_and_timing_told_with_the_form_are_what_enter_alone_takes(
    said: str, style: str, timing: str | dict[str, str]
) -> None:
    told = ["Job", "", "K", "A, B, C", "S1", said, "", ""]
    block = stage_after(told).draft.original["parts"]["S1"]
    assert (block["style"], block["timing"]) == (style, timing)


def test_nothing_of_the_users_is_lost(folder: Path) -> None:
    (folder / "mine.yaml").write_text("my own work")
    assert "a file is there already" in rewire("new", "mine.yaml", "--ask").stderr
    assert rewire("new", "-", "--ask").exit_code == 2
    assert rewire("new", "new.yaml", "--ask", "--form", "3P3T").exit_code == 2
    (folder / "new.yaml.answers").write_text("A title\n")
    (folder / "other.txt").write_text("Another title\n")
    done = rewire("new", "new.yaml", "--answers", "other.txt")
    assert "answers are kept there already" in done.stderr
    (folder / "wrong.txt").write_text("# a comment\n\n")
    assert "wrong.txt:2: an answer is needed here" in rewire("new", "--answers", "wrong.txt").stderr
    (folder / "asks.txt").write_text("A title\n?\n")
    assert "asks.txt:2: '?' is for a talk" in rewire("new", "--answers", "asks.txt").stderr
    assert (folder / "new.yaml.answers").read_text() == "A title\n"


WORDS = ["", "METER", "A, B", "A, B, C", "S1", "2 pole 3 way", "DPDT", "ohmmeter", "1 2 3 4", "1 2",
         "1 3, 2 4", "RD M1.+", "R3.1", "EARTH", "EARHT", "BATTERY", "cut", "S1.A1", "new", "yes",
         "no", "meter", "resistor", "1 mA, 100 ohm", "10 ohm", "R1 BATTERY EARTH", "52 V, 58 V",
         "volts BATTERY EARTH", "60 V, 0-60", "differences", "S1 is SP3T", "M2 replaces M1: 2 mA",
         "in S1.A EARTH", "out S1.A EARTH", "cut S1.A M1.+", "rotary", "none", "{", "a: b", "1e999",
         "S1.\N{MINUS SIGN}", "x" * 300, "'", "[", "ON", "\N{MICRO SIGN}A"]  # fmt: skip


@settings(max_examples=30)
@given(
    st.sampled_from([0, 0, 9, 35, 41, 51, -9, -8, -3]),
    st.lists(st.sampled_from(WORDS) | st.text(max_size=8), min_size=1, max_size=40),
)
def test_whatever_is_answered_is_taken_or_refused_in_a_sentence(
    begun: int, tried: list[str]
) -> None:
    """From the beginning, and where the guide's own answers have led."""
    answers = GUIDE.splitlines()[:begun]
    for answer in tried:
        try:
            stage = stage_after([*answers, answer])
        except Wrong:
            continue
        answers.append(answer)
        if stage.question is None:
            read_text(spec_text(stage.draft.block, "mine.yaml", stage.spec).encode())
            break


def test_at_a_terminal(folder: Path) -> None:
    """Asked again after a slip, the tab key completes, Ctrl-C keeps what was told."""
    main, far = pty.openpty()
    program = (
        "import signal; signal.signal(signal.SIGINT, signal.default_int_handler)\n"
        "from rewire.cli import main; main()"
    )
    words = [sys.executable, "-c", program, "new", "mine.yaml", "--ask"]
    run = subprocess.Popen(words, stdin=far, stdout=far, stderr=far, cwd=folder)
    os.close(far)
    for until, typed in (
        ("The job in a line", "\n"), ("an answer is needed", "My set\n"), ("in a sentence", "\n"),
        ("turn or press", "METER\n"), ("METER: its positions", "A, B\n"), ("Which switch", "\n"),
        ("poles and throws", "dpd\t\n"),
    ):  # fmt: skip
        _until(main, until)
        os.write(main, typed.encode())
    _until(main, "how is it built.*> ")
    run.send_signal(signal.SIGINT)
    if not select.select([main], [], [], 2)[0]:  # it came just before the line was waited for
        run.send_signal(signal.SIGINT)
    _until(main, "answers kept")
    assert run.wait(20) == 130
    os.close(main)
    kept = (folder / "mine.yaml.answers").read_text()
    assert [line for line in kept.splitlines() if not line.startswith("#")] == [
        "My set", "", "METER", "A, B", "", "DPDT"
    ]  # fmt: skip


def _until(terminal: int, said: str) -> str:
    """What stands on a terminal once something (a pattern) is said there."""
    seen = ""
    while not re.search(said, seen, re.DOTALL) and select.select([terminal], [], [], 30)[0]:
        seen += os.read(terminal, 4096).decode("utf-8", "replace")
    assert re.search(said, seen, re.DOTALL)
    return seen


def test_whether_the_chassis_is_on_the_mains_must_be_said() -> None:
    """Nobody declares it safe by leaving a line empty."""
    answers = GUIDE.splitlines()
    at = answers.index("no")
    done = rewire("new", "mine.yaml", "--ask", told="\n".join([*answers[:at], ""]) + "\n")
    assert done.exit_code == 2
    assert "an answer is needed here" in done.stderr


def test_the_timing_of_another_switch_is_unknown_until_it_is_told() -> None:
    told = GUIDE.replace("S1 is DP3T, non-shorting", "S1 is DP3T")
    assert rewire("new", "mine.yaml", "--ask", told=told).exit_code == 0
    switch = read_spec("mine.yaml").wirings["as-found"].parts["S1"]
    assert isinstance(switch, Switch)
    assert {pole.timing for pole in switch.sections} == {"unknown"}
