"""docs/guide.md and README.md tried out: their YAML makes one file, their commands are run on it.

A ``yaml`` block is put behind the file so far. A ``diff`` block changes the file; with ``trap``
behind it, for the next command alone. A ``text`` block begins with a command; what stands below
is its answer.
"""

from __future__ import annotations

import re
import shlex
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path

from click.testing import CliRunner

from rewire.cli import rewire

ROOT = Path(__file__).parents[2]
GUIDE = ROOT / "docs" / "guide.md"
README = ROOT / "README.md"
_BLOCK = re.compile(r"^```(yaml|diff|diff trap|text)\n(.*?)^```$", re.MULTILINE | re.DOTALL)
_COMMAND = re.compile(r"^\$ rewire (.+?)( \| head -(\d+))?(; echo \$\?)?$")


@dataclass(frozen=True)
class Said:
    """A command of a page, the file as it was then, what the page shows, what is answered."""

    command: str
    spec: str
    shown: str
    answer: str
    status: int


def changed(spec: str, diff: str) -> str:
    """A spec with the lines of a diff exchanged; each old line must be there once."""
    lines = diff.splitlines()
    pairs = zip(lines[::2], lines[1::2], strict=True)
    for old, new in pairs:
        if (old[0], new[0]) != ("-", "+") or spec.count(old[1:] + "\n") != 1:
            raise LookupError(old)
        spec = spec.replace(old[1:] + "\n", new[1:] + "\n")
    return spec


def answered(line: str, spec: str, folder: Path) -> tuple[str, int]:
    """What a command says of a spec, and its exit status."""
    told = _COMMAND.match(line)
    if told is None:
        raise LookupError(line)
    arguments, _, most, wants_status = told.groups()
    words = shlex.split(arguments)
    named = next(word for word in words if word.endswith(".yaml"))
    (folder / named).write_text(spec, "utf-8")
    result = CliRunner().invoke(rewire, words, env={"COLUMNS": "80"})
    lines = result.output.splitlines()
    if most:  # head(1) cuts standard output alone
        lines = result.stderr.splitlines() + result.stdout.splitlines()[: int(most)]
    if wants_status:
        lines.append(str(result.exit_code))
    return "\n".join(line.rstrip() for line in lines) + "\n", result.exit_code


def walked(text: str, folder: Path) -> Iterator[tuple[re.Match[str], Said]]:
    """Each command of a page, in order, with the block it stands in."""
    spec, trap = "", None
    for block in _BLOCK.finditer(text):
        kind, body = block.groups()
        if kind == "yaml":
            spec += body
        elif kind == "diff":
            spec = changed(spec, body)
        elif kind == "diff trap":
            trap = changed(spec, body)
        else:
            command, _, shown = body.partition("\n")
            answer, status = answered(command, trap or spec, folder)
            yield block, Said(command, trap or spec, shown, answer, status)
            trap = None


def told_anew(page: Path, folder: Path) -> str:
    """A page with the answers of today."""
    text = page.read_text("utf-8")
    for block, said in reversed(list(walked(text, folder))):
        again = f"```text\n{said.command}\n{said.answer}```"
        text = text[: block.start()] + again + text[block.end() :]
    return text
