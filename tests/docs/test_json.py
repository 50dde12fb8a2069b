"""docs/json.md against what the commands write: no key is missing there, and none is invented."""

from __future__ import annotations

import json
import re
from collections.abc import Iterator
from functools import cache
from pathlib import Path
from typing import Any

import pytest
from click.testing import CliRunner

from rewire.cli import HELP, rewire

ROOT = Path(__file__).parents[2]
PAGE = ROOT / "docs" / "json.md"
FLAGSHIP = "specs/valve-amplifier.yaml"
SPECS = (FLAGSHIP, "specs/bench-supply.yaml", "specs/relay-and-switch.yaml")
LOG = """
rewire_bench: 1
wiring: substitute
continuity:
  - {when: {METER: BIAS}, between: [S4.A, S4.A1], found: closed}
  - {when: {METER: CATHODE}, between: [S4.A, S4.A1], found: closed}
  - {when: {METER: BIAS}, between: [S4.B, S4.B1], found: open}
  - {when: {METER: BIAS}, between: [S4.A1, S4.C1], found: closed}
  - {when: {METER: BIAS}, between: [S4.A, S4.C1], found: open}
calibration:
  - {reading: cathode, applied: 125 mA, indicated: 48 %}
  - {reading: cathode, applied: 250 mA, indicated: 97 %}
acceptance:
  - {test: screen volts at rest, found: 390 V}
"""
DRAWER = """
rewire_drawer: 1
resistors:
  - {resistor: 100 ohm, tolerance: 1 %, rating: 0.5 W, quantity: 2}
  - {resistor: 1.5 ohm, tolerance: 1 %, rating: 0.5 W, quantity: 2}
"""
BUZZOUT = """
rewire_switch: 1
lugs: [1, 2, 3, 4, 5, 6, 7]
detents: {up: [[1, 2], [4, 5]], down: [[2, 3], [5, 6]]}
open: {up: [[1, 2]]}
between: [[[1, 4]]]
"""
METER = ["--meter", "1 mA", "--resistance", "100"]
MAPPING = re.compile(r"\b(control|lug|position|pole|figure|wire) → ")
"""How the page says that a key holds a mapping whose keys come from the user."""


def runs(files: dict[str, str]) -> Iterator[list[str]]:
    """Command lines that between them show what each command can write."""
    shipped = sorted(str(p.relative_to(ROOT)) for p in (ROOT / "specs").glob("*.yaml"))
    yield ["check", *shipped]
    yield from (["values", spec] for spec in SPECS)
    yield ["values", "specs/exciter-timing.yaml"]
    yield ["values", "--overload", "5", FLAGSHIP]
    yield from (["moves", spec] for spec in SPECS)
    yield ["moves", "specs/bandswitch.yaml"]
    yield ["buzz", SPECS[2]]
    yield ["buzz", "--found", files["log"], "--seconds", "1", FLAGSHIP]
    drawer = "docs/examples/drawer.yaml"
    yield ["fit", "--switch", "4P3T", "--drawer", drawer, "--count", "2", FLAGSHIP]
    yield ["fit", "--switch", "4P2T", FLAGSHIP]
    yield ["draw", "--view", "lugs", "--format", "svg", "-o", files["folder"], FLAGSHIP]
    yield ["sheet", "--sections", "verdict", "-o", files["sheet"], FLAGSHIP]
    yield ["new", files["new"]]
    yield ["identify", "switch", files["buzzout"]]
    yield ["identify", "meter", "--series", "10k", "--shunt", "98", "--source", "1.5 V"]
    yield ["shunt", *METER, "100 mA", "--drawer", files["drawer"]]
    yield ["multiplier", *METER, "10 V"]
    yield ["check", files["buzzout"]]


@pytest.fixture(scope="module")
def written(tmp_path_factory: pytest.TempPathFactory) -> dict[str, list[Any]]:
    """Command → its documents."""
    folder = tmp_path_factory.mktemp("json")
    texts = {"log": LOG, "drawer": DRAWER, "buzzout": BUZZOUT}
    for name, text in texts.items():
        (folder / f"{name}.yaml").write_text(text, "utf-8")
    files = {name: str(folder / f"{name}.yaml") for name in (*texts, "new")}
    files |= {"folder": str(folder), "sheet": str(folder / "sheet.pdf")}
    found: dict[str, list[Any]] = {}
    with pytest.MonkeyPatch.context() as patch:
        patch.chdir(ROOT)
        for line in runs(files):
            result = CliRunner().invoke(rewire, [line[0], *line[1:], "--json"])
            assert result.stdout, (line, result.output, result.exception)
            told = json.loads(result.stdout)
            found.setdefault(line[0], []).extend(told if isinstance(told, list) else [told])
    return found


@cache
def documented() -> dict[str, dict[str, bool]]:
    """Command → key, with dots and without lists → whether it holds a mapping of the user's."""
    text = PAGE.read_text("utf-8")
    chapters = dict(re.findall(r"^## (.+)\n((?:(?!## ).*\n?)*)", text, re.M))
    every = dict(keys_of(chapters["Every document"]))
    finding = dict(keys_of(chapters["A finding"]))
    found: dict[str, dict[str, bool]] = {}
    for head, rest in chapters.items():
        if head.startswith("rewire "):
            found[head.removeprefix("rewire ")] = every | dict(keys_of(rest, finding))
    for name in ("shunt", "multiplier"):
        assert "As `rewire values`" in chapters[f"rewire {name}"]
        found[name] = found["values"]
    return found


def keys_of(chapter: str, finding: dict[str, bool] | None = None) -> Iterator[tuple[str, bool]]:
    """Keys in the tables of a chapter; where a finding is meant, its keys too."""
    for title, body in re.findall(r"^### (.+)\n((?:(?!### ).*\n?)*)", chapter, re.M):
        prefixes = [f"{one}." for one in re.findall(r"`(.+?)`", title)] or [""]
        for keys, holds in re.findall(r"^\| (`.+?`) \| (.+) \|$", body, re.M):
            for key in re.findall(r"`(.+?)`", keys):
                for prefix in prefixes:
                    yield f"{prefix}{key}", bool(MAPPING.search(holds))
                    if "#a-finding" in holds:
                        for more, mapping in (finding or {}).items():
                            yield f"{prefix}{key}.{more}", mapping


def keys_in(value: Any, known: dict[str, bool], prefix: str = "") -> Iterator[str]:
    """Keys of a document, with dots and without lists; not those that a user chose."""
    if isinstance(value, list):
        for item in value:
            yield from keys_in(item, known, prefix)
    if isinstance(value, dict) and not known.get(prefix.removesuffix("."), False):
        for key, item in value.items():
            yield f"{prefix}{key}"
            yield from keys_in(item, known, f"{prefix}{key}.")


def test_every_command_that_writes_json_has_a_chapter() -> None:
    assert set(documented()) == set(HELP) - {"schema", "watch"}


@pytest.mark.parametrize("command", sorted(set(HELP) - {"schema", "watch"}))
def test_every_key_that_occurs_is_documented(command: str, written: dict[str, list[Any]]) -> None:
    known = documented()[command]
    occurring = set(keys_in(written[command], known))
    assert occurring, command
    assert sorted(occurring - known.keys()) == [], f"docs/json.md, rewire {command}: add these keys"


def test_every_documented_key_occurs_or_is_in_the_code(written: dict[str, list[Any]]) -> None:
    """Few keys may be looked up in the code alone: those that need a rare case."""
    source = "\n".join(path.read_text("utf-8") for path in (ROOT / "rewire").rglob("*.py"))
    occurring = {
        command: set(keys_in(written[command], known)) for command, known in documented().items()
    }
    findings = {key.rpartition(".")[2] for key in occurring["check"] if ".findings." in key}
    alike = occurring["values"] | occurring["shunt"] | occurring["multiplier"]
    rare = set()
    for command, known in documented().items():
        seen = alike if known is documented()["values"] else occurring[command]
        for key in known.keys() - seen:
            above, _, last = key.rpartition(".")
            if known_elsewhere(key) or (above.startswith("results.") and last in findings):
                continue
            rare.add(f"{command}: {key}")
            there = re.search(rf'[" ]{last}[=" ]|^    {last}: ', source, re.M)
            assert there, f"docs/json.md, rewire {command}: there is no key {key}"
    assert len(rare) < 12, "\n".join(sorted(rare))


def known_elsewhere(key: str) -> bool:
    """What every document may have is shown by `check`."""
    return key.partition(".")[0] in {"errors", "limit"} or key in {"spec", "results"}
