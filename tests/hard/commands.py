"""Every command as one would call it on a spec, and specs that a stranger may send."""

from __future__ import annotations

import json
from collections.abc import Sequence
from pathlib import Path
from typing import Any

from click.testing import CliRunner, Result

from rewire.cli import rewire

ROOT = Path(__file__).parents[2]
SPECS = ROOT / "specs"
FLAGSHIP = SPECS / "valve-amplifier.yaml"
SMALL = SPECS / "monitor-jack.yaml"

REPORTS: dict[str, tuple[str, ...]] = {
    "check": ("check", "SPEC", "--jobs", "1"),
    "check --json": ("check", "SPEC", "--json", "--jobs", "1"),
    "values": ("values", "SPEC"),
    "values --json": ("values", "SPEC", "--json"),
    "moves": ("moves", "SPEC"),
    "moves --json": ("moves", "SPEC", "--json"),
    "buzz": ("buzz", "SPEC"),
    "buzz --json": ("buzz", "SPEC", "--json"),
    "fit": ("fit", "SPEC", "--switch", "4P6T"),
    "fit --json": ("fit", "SPEC", "--switch", "4P6T", "--json"),
}
"""Commands that only write on standard output."""
FILES: dict[str, tuple[str, ...]] = {
    "draw to PDF": ("draw", "SPEC", "-o", "drawn.pdf"),
    "draw to SVG": ("draw", "SPEC", "--view", "lugs", "--format", "svg", "-o", "FOLDER"),
    "sheet": ("sheet", "SPEC", "-o", "sheet.pdf"),
    "page": ("sheet", "SPEC", "-o", "page.html"),
}
"""Commands that write a file, or files into a folder."""
EVERY = REPORTS | FILES


def spelt(command: Sequence[str], spec: Path, folder: Path) -> list[str]:
    """The words of a command, its file names ending up in ``folder``."""
    names = {"SPEC": str(spec), "FOLDER": str(folder)}
    ends = (".pdf", ".html", ".svg")
    return [
        str(folder / word) if word.endswith(ends) else names.get(word, word) for word in command
    ]


def ran(*words: str, typed: str = "", **environment: str) -> Result:
    """A command run in this process; our own faults are raised, not swallowed."""
    done = CliRunner().invoke(rewire, list(words), input=typed, env={"COLUMNS": "80"} | environment)
    if done.exception is not None and not isinstance(done.exception, SystemExit):
        raise done.exception
    return done


def with_text_everywhere(text: str) -> dict[str, Any]:
    """A small spec with one text in every place that takes free text."""
    said = {"note": text, "where": text, "label": text}
    swap = [
        {"from": "S1.A", "to": "FEED", "note": text, "gauge": text, "twisted_with": text},
        ["S1.A1", "R1.1"],
        ["S1.A2", "M1.+"],
    ]
    parts = {
        "S1": {"switch": "SPDT", "control": "K", "timing": "non-shorting", **said},
        "M1": {"meter": "1 mA", "resistance": "60 ohm", "scales": [text], **said},
        "R1": {"resistor": "4k7", **said},
    }
    nets = {f"net {text}": ["R1.2", "CHASSIS", "M1.-"]}
    original = {"note": text, "parts": parts, "nets": nets, "wires": swap}
    changes = [{"drop": ["R1.1", "FEED"], "why": text}, {"reverse": "M1", "why": text}]
    other = {**original, "wires": [swap[0], swap[2]], "changes": changes}
    return {
        "rewire": "1", "title": text, "equipment": text, "summary": text,
        "document": dict.fromkeys(("author", "date", "revision", "licence"), text),
        "controls": {"K": {"positions": [text, f"{text} too"], "note": text}},
        "points": {
            "CHASSIS": {"chassis": "yes", "note": text, "where": text},
            "FEED": {"volts": "300 V", "note": text, "where": text},
        },
        "readings": {f"read {text}": {
            "when": {"K": f"{text} too"}, "current": ["FEED", "CHASSIS"], "full_scale": "1 mA",
            "scale": text, "marks": {"0.5 mA": text},
        }},
        "rules": [{"connect": ["FEED", "CHASSIS"], "why": text}],
        "wirings": {"original": original, f"other {text}": other},
        "cautions": [text],
        "found": [{"what": text, "where": text, "plan": "keep", "why": text}],
        "procedure": {"before": [{"do": text, "where": text, "caution": text}]},
        "acceptance": [{"test": text, "how": text, "expect": text}],
    }  # fmt: skip


def written(folder: Path, spec: dict[str, Any], name: str = "spec.yaml") -> Path:
    """A spec in a file; JSON is YAML, and keeps every character."""
    path = folder / name
    path.write_text(json.dumps(spec), "utf-8")
    return path
