"""Every command as one would call it on a spec, and specs that a stranger may send."""

from __future__ import annotations

import atexit
import base64
import functools
import json
import subprocess
import sys
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path
from subprocess import PIPE
from typing import IO, Any

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


@dataclass(frozen=True)
class Ended:
    """How a run in a process of its own ended."""

    status: int
    """Exit status; minus the number of the signal that ended it."""
    out: bytes
    err: bytes
    most_kib: int
    """Memory it took at most, as getrusage(2) counts it."""


# Starting Python and importing what draws takes longer than a run: they are done once, and each run
# is forked off. What is done to it (`how`) is done in the fork, with the modules named here.
FORKS = """
import base64, importlib, json, os, resource, signal, sys
from pathlib import Path
from rewire.cli import ROOMS, files, main
def run(words, how):
    exec(how, globals())
    sys.argv[:] = ["rewire", *words]
    main()
def ended(words, how):
    importlib.import_module(f"rewire.cli.{ROOMS.get(words[0], words[0])}")
    pipes = os.pipe(), os.pipe()
    child = os.fork()
    if child == 0:
        for number, (_, end) in enumerate(pipes, 1):
            os.dup2(end, number)
        os.dup2(os.open(os.devnull, os.O_RDONLY), 0)
        os.closerange(3, 64)
        sys.stdout, sys.stderr = (os.fdopen(n, "w", buffering=1, closefd=False) for n in (1, 2))
        status = 70
        try:
            run(words, how)
        except SystemExit as end:
            status = end.code or 0
        except BaseException:
            sys.excepthook(*sys.exc_info())
        for stream in filter(None, (sys.stdout, sys.stderr)):
            stream.flush()
        os._exit(status)
    said = []
    for theirs, ours in pipes:
        os.close(ours)
        with os.fdopen(theirs, "rb") as file:
            said.append(base64.b64encode(file.read()).decode())
    _, status, used = os.wait4(child, 0)
    return os.waitstatus_to_exitcode(status), *said, used.ru_maxrss
for line in sys.stdin:
    print(json.dumps([ended(*one) for one in json.loads(line)]), flush=True)
"""


@functools.cache
def _forks() -> tuple[IO[str], IO[str]]:
    """A process to fork runs from, as long as the tests last."""
    forks = subprocess.Popen(
        [sys.executable, "-c", FORKS], encoding="utf-8", stdin=PIPE, stdout=PIPE
    )
    assert forks.stdin is not None
    assert forks.stdout is not None
    atexit.register(forks.communicate)
    return forks.stdin, forks.stdout


def forked(runs: Sequence[tuple[Sequence[str], str]]) -> list[Ended]:
    """The program run with each list of words, after some lines of Python, one by one."""
    asking, telling = _forks()
    asking.write(json.dumps(runs) + "\n")
    asking.flush()
    return [
        Ended(status, base64.b64decode(out), base64.b64decode(err), most)
        for status, out, err, most in json.loads(telling.readline())
    ]
