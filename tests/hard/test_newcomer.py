"""Mistakes that a newcomer makes with each command: one message, its place, a way out, status 2."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path

import pytest

from rewire.cli import HELP
from tests.hard.commands import FLAGSHIP, ran

METER = ("--meter", "1 mA", "--resistance", "100 ohm")
FILES = {
    "tabbed.yaml": "rewire: 1\ntitle: t\n\tnote: x\n",
    "typo.yaml": FLAGSHIP.read_text("utf-8").replace("summary:", "sumary:", 1),
    "drawer.yaml": "rewire_drawer: 1\nresistorz:\n  - {resistor: 10 ohm}\n",
    "drawer-unit.yaml": "rewire_drawer: 1\nresistors:\n  - {resistor: 10 volts}\n",
    "log.yaml": "rewire_bench: 1\nwiring: substitut\ncontinuity: []\n",
    "log-lug.yaml": (
        "rewire_bench: 1\nwiring: substitute\ncontinuity:\n"
        "  - {when: {METER: BIAS}, between: [S4.A, S9.A1], found: closed}\n"
    ),
    "buzz.yaml": "rewire_switch: 1\nlugs: [1, 2]\ndetents:\n  up: [[1, 9]]\n  down: [[1, 2]]\n",
    "empty.yaml": "",
    "taken.yaml": "mine",
}
# Words of a command (SPEC is the flagship) → what its message must say: the place, or the way out.
MISTAKES: list[tuple[str, Sequence[str], str]] = [
    ("chek SPEC", ("chek", "SPEC"), "Did you mean check?"),
    ("--hepl", ("--hepl",), "--help"),
    *(
        (f"{name} --jsn", (name, "--jsn"), "--json")
        for name in HELP
        if name not in ("schema", "identify", "watch")
    ),
    *((f"{name} without a spec", (name,), "SPEC") for name in ("check", "values", "draw", "fit")),
    *(
        (f"{name} missing.yaml", (name, "missing.yaml"), "missing.yaml:1:1: ")
        for name in ("check", "values", "draw", "moves", "buzz", "sheet")
    ),
    *(
        (f"{name} a folder", (name, "."), "Is a directory")
        for name in ("check", "values", "moves", "buzz")
    ),
    *(
        (f"{name} with a tab", (name, "tabbed.yaml"), "tabbed.yaml:3:1: a tab in the indent")
        for name in ("check", "values", "draw", "moves", "buzz", "sheet")
    ),
    *(
        (f"{name} with a typo", (name, "typo.yaml"), "nearest is 'summary'")
        for name in ("check", "values", "draw", "moves", "buzz", "sheet")
    ),
    *(
        (f"{name} --wiring", (name, "SPEC", "--wiring", "substitut"), "nearest is 'substitute'")
        for name in ("check", "values", "draw", "buzz", "sheet")
    ),
    ("check empty", ("check", "empty.yaml"), "start with 'rewire: 1'"),
    ("check a drawer", ("check", "drawer.yaml"), "give it with --drawer"),
    ("check a log", ("check", "log.yaml"), "buzz --found"),
    ("check a buzz-out", ("check", "buzz.yaml"), "identify switch"),
    ("an empty drawer", ("values", "SPEC", "--drawer", "empty.yaml"), "'rewire_drawer: 1'"),
    ("an empty log", ("buzz", "SPEC", "--found", "empty.yaml"), "'rewire_bench: 1'"),
    ("an empty buzz-out", ("identify", "switch", "empty.yaml"), "'rewire_switch: 1'"),
    ("check --jobs", ("check", "SPEC", "--jobs", "0"), "1 or more"),
    ("values --metal", ("values", "SPEC", "--metal", "gold"), "'manganin'"),
    ("values --overload", ("values", "SPEC", "--overload", "nan"), "no such number"),
    ("values --drawer", ("values", "SPEC", "--drawer", "drawer.yaml"), "nearest is 'resistors'"),
    ("a drawer's unit", ("values", "SPEC", "--drawer", "drawer-unit.yaml"), "yaml:3:16: "),
    ("draw --view", ("draw", "SPEC", "--view", "lug"), "Did you mean lugs?"),
    ("draw --switch", ("draw", "SPEC", "--switch", "S33"), "nearest is 'S3'"),
    ("draw --reading", ("draw", "SPEC", "--reading", "cathod"), "nearest is 'cathode'"),
    ("draw --format", ("draw", "SPEC", "--format", "jpg"), "There are: pdf, svg, png"),
    ("draw -o", ("draw", "SPEC", "-o", "gone/x.pdf"), "mkdir -p gone"),
    ("moves --from", ("moves", "SPEC", "--from", "asfound"), "nearest is 'as-found'"),
    ("buzz --found", ("buzz", "SPEC", "--found", "log.yaml"), "log.yaml:2:9: "),
    ("a log's lug", ("buzz", "SPEC", "--found", "log-lug.yaml"), "nearest is 'S4.A1'"),
    ("buzz --found a spec", ("buzz", "SPEC", "--found", "SPEC"), "rewire_bench: 1"),
    ("buzz --ask", ("buzz", "SPEC", "--ask", "--wiring", "substitut"), "nearest is 'substitute'"),
    ("identify swich", ("identify", "swich", "x"), "Did you mean 'switch'?"),
    ("identify switch", ("identify", "switch", "buzz.yaml"), "buzz.yaml:4:"),
    ("identify meter", ("identify", "meter", "--series", "10 V", "--shunt", "98"), "'10 ohm'"),
    ("fit alone", ("fit", "SPEC"), "--switch 4P3T"),
    ("fit --switch", ("fit", "SPEC", "--switch", "3P"), "DPDT"),
    ("fit --replace", ("fit", "SPEC", "--switch", "3P3T", "--replace", "S9"), "nearest is 'S3'"),
    (
        "fit --time-limit",
        ("fit", "SPEC", "--switch", "3P3T", "--time-limit", "nan"),
        "no such number",
    ),
    ("sheet -o", ("sheet", "SPEC", "-o", "x.txt"), "NAME.pdf"),
    ("sheet over yours", ("sheet", "SPEC", "-o", "taken.pdf"), "--force"),
    ("sheet --sections", ("sheet", "SPEC", "--sections", "verdikt"), "Did you mean verdict?"),
    ("new over yours", ("new", "taken.yaml"), "name another"),
    ("new --form", ("new", "x.yaml", "--form", "3P"), "3P3T"),
    ("shunt alone", ("shunt", "1 A"), '--meter "1 mA"'),
    ("multiplier of no volts", ("multiplier", *METER), '"250 V"'),
    ("identify no switch", ("identify", "switch"), "rewire new --buzz-out"),
    ("buzz --seconds", ("buzz", "SPEC", "--seconds", "long"), "write a number, 0 or more"),
    ("check a sheet", ("check", "sheet.pdf"), "rewire new --from"),
    ("shunt of nothing", ("shunt", *METER[:3], "0", "1 A"), "rewire identify meter"),
    ("shunt in volts", ("shunt", *METER, "1 V"), "'50 mA'"),
    ("shunt --choose", ("shunt", *METER, "1 A", "--choose", "E7"), "'E12'"),
    ("shunt twice", ("shunt", *METER, "1 A", "1 A"), "given twice"),
    ("shunt nan", ("shunt", *METER, "nan"), "no value that a part can have"),
    ("shunt 1e99", ("shunt", *METER, "1e99 A"), "beyond anything that exists"),
    ("shunt 1e-99", ("shunt", *METER, "1e-99 A"), "too small"),
    ("multiplier in amps", ("multiplier", *METER, "1 A"), "'50 V'"),
    ("multiplier --tolerance", ("multiplier", *METER, "9 V", "--tolerance", "x"), "'2 %'"),
    ("watch a folder", ("watch", "."), "only a file can be watched"),
    ("schema of something", ("schema", "x"), "unexpected extra argument"),
]


@pytest.fixture(scope="module")
def desk(tmp_path_factory: pytest.TempPathFactory) -> Path:
    folder = tmp_path_factory.mktemp("desk")
    for name, text in FILES.items():
        (folder / name).write_text(text, "utf-8")
    (folder / "taken.pdf").write_text("mine", "utf-8")
    (folder / "sheet.pdf").write_bytes(b"%PDF-1.7\n\xe2\xe3\xcf\xd3\n")
    return folder


@pytest.mark.parametrize(("words", "said"), [m[1:] for m in MISTAKES], ids=[m[0] for m in MISTAKES])
def test_a_mistake_is_answered_with_its_place_and_a_way_out(
    words: Sequence[str], said: str, desk: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.chdir(desk)
    before = {file: file.read_bytes() for file in desk.iterdir()}
    done = ran(*(str(FLAGSHIP) if word == "SPEC" else word for word in words))
    assert done.exit_code == 2
    assert said in done.stderr
    assert done.stdout == ""
    messages = [
        line for line in done.stderr.splitlines()
        if line and not line.startswith(("Usage: ", "Try 'rewire"))
    ]  # fmt: skip
    assert len(messages) <= 1
    assert {file: file.read_bytes() for file in desk.iterdir()} == before


def test_every_command_is_among_the_mistakes() -> None:
    assert {words[0] for _, words, _ in MISTAKES} >= set(HELP)
