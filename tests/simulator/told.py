"""What the program says: its commands called with the words anybody types, their JSON read."""

import json
from collections.abc import Sequence
from fractions import Fraction
from functools import cache
from pathlib import Path
from typing import Any

from click.testing import CliRunner

from rewire.cli import rewire as group
from tests.simulator.reader import Rig, load

ROOT = Path(__file__).parents[2]


@cache
def rewire(*words: str | Path) -> str:
    """Standard output of a command; it may find faults, or not know all, but must answer."""
    done = CliRunner().invoke(group, [*map(str, words)], catch_exceptions=False)
    assert done.exit_code in (0, 1, 3), done.stderr
    return done.stdout


def machine(*words: str | Path) -> list[dict[str, Any]]:
    """The machine output of a command about several specs, a document for each."""
    read = json.loads(rewire(*words, "--json"))
    return read if isinstance(read, list) else [read]


def values(specs: Sequence[Path]) -> list[tuple[Rig, dict[str, Any]]]:
    """Every wiring of every spec, the original too, with what `rewire values` says of it."""
    found = []
    for file in specs:
        names = [word for name in load(file)["wirings"] for word in ("--wiring", name)]
        [document] = machine("values", file, *names)
        found += with_rigs(file, document)
    return found


def values_at_once(specs: Sequence[Path]) -> list[tuple[Rig, dict[str, Any]]]:
    """The same in one process, of every wiring but the original."""
    documents = machine("values", *specs)
    return [
        one
        for file, document in zip(specs, documents, strict=True)
        for one in with_rigs(file, document)
    ]


def with_rigs(file: Path, document: dict[str, Any]) -> list[tuple[Rig, dict[str, Any]]]:
    spec = load(file)
    assert "results" in document, document
    return [(Rig(spec, r["wiring"], chosen(r)), r) for r in document["results"]]


def chosen(result: dict[str, Any]) -> dict[str, Fraction]:
    """What was chosen for the values left open: ohms, and shares of pots."""
    fits = {f["part"]: f["chosen_ohms"] for f in result["fits"]}
    pots = {p["part"]: p["setting_percent"] for p in result["pots"]}
    found = {name: Fraction(ohms) for name, ohms in fits.items() if ohms is not None}
    return found | {n: Fraction(share) / 100 for n, share in pots.items() if share is not None}
