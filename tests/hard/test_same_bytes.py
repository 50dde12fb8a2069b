"""The same bytes in another run, hash seed, time zone, working folder, locale and umask."""

from __future__ import annotations

import hashlib
import os
import subprocess
import sys
from collections.abc import Sequence
from pathlib import Path

import pytest

from rewire.cli import HELP
from tests.hard.commands import FLAGSHIP, REPORTS, ROOT, SMALL

EXAMPLES = ROOT / "docs" / "examples"

# Each command in a process of its own would cost a start for each: one process does them all.
ALL = """
import hashlib, io, os, sys
from contextlib import redirect_stdout
from rewire.cli import rewire
os.umask(int(os.environ["UMASK"], 8))
for words in {commands!r}:
    said = io.StringIO()
    with redirect_stdout(said):
        try:
            rewire(words, prog_name="rewire")
        except SystemExit as end:
            status = end.code
    print(status, hashlib.sha256(said.getvalue().encode()).hexdigest(), words[0])
"""
MACHINES = [
    {"PYTHONHASHSEED": "0", "TZ": "UTC", "LC_ALL": "C.UTF-8", "UMASK": "022"},
    {
        "PYTHONHASHSEED": "4242", "TZ": "Asia/Kathmandu", "LC_ALL": "C", "UMASK": "077",
        "SOURCE_DATE_EPOCH": "1",
    },
]  # fmt: skip
METER = ("--meter", "1 mA", "--resistance", "100 ohm")
BESIDE = {
    "buzz-out.yaml": EXAMPLES / "buzz-out.yaml",
    "drawer.yaml": EXAMPLES / "drawer.yaml",
    "spec.yaml": SMALL,
    "flagship.yaml": FLAGSHIP,
    "log.yaml": EXAMPLES / "bench-log.yaml",
}
SECTIONS = "verdict,work,continuity,bench,lugs,wires,plots"
"""All but the card, which `draw` draws."""
COMMANDS: list[Sequence[str]] = [
    *REPORTS.values(),
    *(("sheet", "SPEC", "--sections", SECTIONS, "-o", name) for name in ("sheet.pdf", "page.html")),
    ("draw", "SPEC", "--view", "circuit", "--wiring", "original", "-o", "drawn.pdf"),
    ("draw", "SPEC", "--view", "lugs", "--wiring", "original", "--format", "png", "-o", "FOLDER"),
    ("draw", "SPEC", "--format", "svg", "-o", "FOLDER", "--json"),
    ("identify", "switch", "buzz-out.yaml"),
    ("identify", "switch", "buzz-out.yaml", "--json"),
    ("identify", "meter", "--series", "10k", "--shunt", "98", "--source", "1.5 V", "--json"),
    ("buzz", "flagship.yaml", "--found", "log.yaml", "--json"),
    ("values", "SPEC", "--drawer", "drawer.yaml"),
    ("shunt", *METER, "1 A", "--json"),
    ("multiplier", *METER, "50 V"),
    ("new", "new.yaml"),
    ("schema",),
]
"""Every command, and every kind of output."""


def made(folder: Path, environment: dict[str, str]) -> tuple[str, dict[str, str]]:
    """What every command says, and a hash of every file it writes, made in a folder."""
    folder.mkdir()
    for name, source in BESIDE.items():
        (folder / name).write_bytes(source.read_bytes())
    commands = [
        ["." if word == "FOLDER" else "spec.yaml" if word == "SPEC" else word for word in words]
        for words in COMMANDS
    ]
    inherited = {k: v for k, v in os.environ.items() if k not in ("SOURCE_DATE_EPOCH", "COLUMNS")}
    done = subprocess.run(
        [sys.executable, "-c", ALL.format(commands=commands)],
        capture_output=True, encoding="utf-8", check=False, cwd=folder,
        env={**inherited, **environment},
    )  # fmt: skip
    assert done.returncode == 0, done.stderr
    hashes = {file.name: hashlib.sha256(file.read_bytes()).hexdigest() for file in folder.iterdir()}
    return done.stdout, hashes


@pytest.fixture(scope="module")
def runs(tmp_path_factory: pytest.TempPathFactory) -> list[tuple[str, dict[str, str]]]:
    root = tmp_path_factory.mktemp("same")
    names = ["one", "Gerät, another"]
    return [
        made(root / name, environment) for name, environment in zip(names, MACHINES, strict=True)
    ]


def test_every_command_says_the_same(runs: list[tuple[str, dict[str, str]]]) -> None:
    said = [text for text, _ in runs]
    lines = said[0].splitlines()
    assert len(lines) == len(COMMANDS)
    assert {line.split()[2] for line in lines} == set(HELP) - {
        "watch"
    }  # its address is another each time
    assert {line.split()[0] for line in lines} == {"0", "1", "3"}
    assert said[1:] == said[:1] * (len(said) - 1)


def test_every_file_holds_the_same_bytes(runs: list[tuple[str, dict[str, str]]]) -> None:
    files = [hashes for _, hashes in runs]
    assert {Path(name).suffix for name in files[0]} == {".yaml", ".pdf", ".svg", ".png", ".html"}
    assert files[1:] == files[:1] * (len(files) - 1)
