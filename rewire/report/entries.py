"""What a box or a blank is of a bench log: plain data, which the page judges and saves by."""

from __future__ import annotations

import json
from math import isfinite

from rewire.bench.ohmmeter import BEEPS
from rewire.bench.probes import Probe
from rewire.bench.record import unit_expected
from rewire.records.spec import Acceptance, Reading
from rewire.report.measured import good_ohms
from rewire.words.arcs import dial_ends

Entry = dict[str, object]


def touch_entry(wiring: str, probe: Probe) -> Entry:
    """A touch of an ohmmeter; ``least`` to ``most`` ohms are good, None where open is."""
    least, most = good_ohms(probe)
    return {
        "in": "continuity", "wiring": wiring, "when": dict(probe.state),
        "between": list(probe.between), "expect": probe.expect, "least": least,
        "most": most if isfinite(most) else None,
    }  # fmt: skip


def point_entry(wiring: str, reading: Reading, applied: str, run: str) -> Entry:
    """A point of a calibration run, ``rising`` or ``falling``.

    A bare figure is one on the dial, where the dial is named by its ends, else percent.
    """
    unit = "" if dial_ends(reading.scale) else "%"
    return {"in": "calibration", "wiring": wiring, "reading": reading.name, "applied": applied,
            "run": run, "unit": unit}  # fmt: skip


def test_entry(wiring: str, test: Acceptance) -> Entry:
    """An acceptance test; a bare figure is in the unit that is expected."""
    unit = unit_expected(test)
    return {"in": "acceptance", "wiring": wiring, "test": test.test, "unit": unit}


def field_entry(wiring: str, key: str) -> Entry:
    """A line of the log's head: ``by``, ``date``, ``serial``, ``instruments``."""
    return {"in": key, "wiring": wiring}


class Packed:
    """The entries of a page by number, each once, in few letters."""

    def __init__(self) -> None:
        self._lines: dict[str, int] = {}
        self._states: dict[str, int] = {}

    def number(self, entry: Entry) -> int:
        """Of an entry; alike ones have the same."""
        line: object = entry
        if entry["in"] == "continuity":
            at = json.dumps(entry["when"])
            state = self._states.setdefault(at, len(self._states))
            line = [entry["wiring"], state, entry["between"], entry["expect"],
                    entry["least"], entry["most"]]  # fmt: skip
        return self._lines.setdefault(json.dumps(line), len(self._lines))

    def told(self) -> dict[str, object]:
        """All that were numbered so far, as JSON has them."""
        return {"beeps": BEEPS, "states": [*map(json.loads, self._states)],
                "entries": [*map(json.loads, self._lines)]}  # fmt: skip


def note_entry(wiring: str, label: str) -> Entry:
    """A note under a label of its own."""
    return {"in": "notes", "wiring": wiring, "label": label}
