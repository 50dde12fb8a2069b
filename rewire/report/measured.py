"""What was measured, against what must be: calibration runs, acceptance tests; for machines too."""

from __future__ import annotations

import json
from collections.abc import Iterable, Iterator, Mapping, Sequence
from math import ceil, floor, inf, isfinite

from rewire.bench.calibration import (
    Calibration,
    Determined,
    Explanation,
    Outcome,
    Run,
    RunPoint,
    unit_expected,
)
from rewire.bench.moves import by_hand
from rewire.bench.ohmmeter import BEEPS, LEADS, LEAKS, METER
from rewire.bench.probes import Probe
from rewire.records.part import Part
from rewire.records.parts import COLD, Lamp, Meter
from rewire.records.spec import Acceptance, Reading, Spec, Wiring
from rewire.report.machine import JSON, Keys
from rewire.report.section import (
    Cell,
    ReportSection,
    Table,
    Tone,
    Words,
    note,
    row,
    used_columns,
    warning,
)
from rewire.values.cases import shown_times
from rewire.words.arcs import dial_ends
from rewire.words.quantity import in_ohms, with_unit
from rewire.words.wording import listing

Entry = dict[str, object]
"""What a box or a blank is of a bench log, which the page judges and saves by."""
_UNITS = {"current": "A", "voltage": "V"}
_TONES: dict[bool | None, Tone] = {True: "good", False: "bad", None: "meant"}
_MOST = 6
"""Explanations that are told one by one."""


def before_words(
    spec: Spec, wiring: Wiring, settings: Mapping[str, float], probes: Sequence[Probe]
) -> Iterator[Words]:
    """What to know before the leads are touched to anything; ``settings`` of pots, percent."""
    parts = spec.parts_of(wiring).values()
    meters = list(spec.all_of(Meter, wiring))
    lamps = spec.all_of(Lamp, wiring)
    cold = f"lamps are counted cold, about {COLD:g} of their ohms when lit"
    yield from (note(set_first(name, at)) for name, at in settings.items())
    yield from map(note, [cold] if lamps else [])
    yield from map(warning, by_hand(parts))
    yield from map(note, rectified(parts))
    yield note(
        f"closed means under {LEADS:g} Ω, less what the leads read; do not trust the beeper: it "
        "sounds through a low shunt too"
    )
    yield note("too low: something that the spec leaves out is in parallel")
    if meters:
        yield warning(
            "an analogue ohmmeter drives up to 100 mA on its low ranges: lift one lead of "
            f"{listing(meters)} first, or use a digital one"
        )
    yield from map(warning, overdriven(probes))


def good_range(probe: Probe) -> str:
    """From what to what a reading of ohms is good, leads and ohmmeter counted; else nothing.

    Below an ohm in hundredths, which is what an ohmmeter shows, within the range.
    """
    if probe.expect != "ohms" or probe.ohms is None:
        return ""
    least, most = good_ohms(probe)
    least = ceil(100.0 * least) / 100.0 if least < 1.0 else least
    most = floor(100.0 * most) / 100.0 if most < 1.0 else most
    return f"{in_ohms(least, 3)} to {in_ohms(most, 3)}"


def good_ohms(probe: Probe) -> tuple[float, float]:
    """The least and the most ohms that are good; what is not known may be all but open."""
    if probe.expect != "ohms":
        return (0.0, LEADS) if probe.expect == "closed" else (LEAKS, inf)
    if probe.ohms is None:
        return 0.0, LEAKS
    off = (probe.spread + METER) * probe.ohms
    return max(0.0, probe.ohms - off), probe.ohms + off + LEADS


def overdriven(probes: Iterable[Probe]) -> Iterator[str]:
    """What the stars stand for, a sentence for each movement that is overdriven."""
    worst: dict[str, float] = {}
    for probe in probes:
        for name, times in probe.overloads:
            worst[name] = max(times, worst.get(name, 0.0))
    for name, times in worst.items():
        yield (
            f"a digital one drives about 1 mA on its lowest, {shown_times(times)} times full scale "
            f"of {name} where * stands: there use the highest range that still shows the figure, "
            f"or lift one lead of {name} and read that pair without it"
        )


def set_first(pot: str, percent: float) -> str:
    """The setting of a pot on which the figures count."""
    return f"set {pot} to {percent:.0f} % of travel from ccw first"


def rectified(parts: Iterable[Part]) -> Iterator[str]:
    """What an ohmmeter makes of meters for AC, a sentence for each."""
    for part in parts:
        if part.ac:
            yield (
                f"{part.name} is made for AC: through it an ohmmeter reads a rectifier, other "
                "ohms on each range and each way round; see only that it is neither open nor closed"
            )


def calibration_sections(wiring: Wiring, found: Calibration) -> Iterator[ReportSection]:
    """The runs, point by point, and what would explain what is off."""
    for run in found.runs:
        head = Words(
            run_said(run), f"{run.reading}: {pass_cell(run.passed).text}:", tone=_TONES[run.passed]
        )
        yield ReportSection("calibration", "", (head, run_table(wiring, run)))
    yield ReportSection("explanations", "", tuple(explanations(found)))


def pass_cell(passed: bool | None) -> Cell:
    """In words, for paper without colour; what failed is bold."""
    if passed is None:
        return Cell("not judged")
    return Cell("pass") if passed else Cell("FAIL", bold=True)


def run_said(run: Run) -> str:
    """The line through the points of a run."""
    if run.scale is None:
        return "nothing but zero was read"
    said = f"scale factor {run.scale:.4g}"
    if run.expected is not None:
        said += f" (the values give {run.expected:.4g})"
    said += f", zero {run.zero_percent:+.2g} % of full scale"
    if run.linearity_percent is not None:
        said += f", at most {run.linearity_percent:.2g} % off the line"
    return said


def run_table(wiring: Wiring, run: Run) -> Table:
    """Each point with its error, percent of full scale, and what is allowed."""
    unit = _UNITS[wiring.readings[run.reading].quantity]
    figures = ("applied", "indicated", "error", "allowed")
    rows = tuple(_point(point, unit) for point in run.points)
    table = Table((*figures, "", "remark"), rows, figures=frozenset(figures))
    return used_columns(table)


def _point(point: RunPoint, unit: str) -> tuple[Cell, ...]:
    entry, low, high = point.entry, point.low_percent, point.high_percent
    allowed = "unknown" if low is None or high is None else f"{low:+.1f} to {high:+.1f} %"
    return (
        Cell(with_unit(entry.applied, unit), bold=True),
        *row(with_unit(entry.indicated, unit), f"{point.error_percent:+.2f} %", allowed),
        pass_cell(point.passed), Cell(entry.note or ""),
    )  # fmt: skip


def explanations(found: Calibration) -> Iterator[Words]:
    """What would explain runs that are off, and what the runs say of the movements."""
    if found.off:
        tone: Tone = "plain" if found.explanations else "bad"
        yield Words(_explained(found.explanations), tone=tone)
        for number, one in enumerate(found.explanations[:_MOST], 1):
            yield Words(_explanation(one), f"{number}.", indent=2)
        if len(found.explanations) > _MOST:
            yield note(f"and {len(found.explanations) - _MOST} more")
    for movement in found.movements:
        ohms = f"{in_ohms(movement.ohms)} ± {in_ohms(2.0 * movement.sigma, 2)}"
        yield note(f"{movement.part} has {ohms} by these runs, whatever its sensitivity")


def _explained(found: Sequence[Explanation]) -> str:
    """What stands above the values that would explain a run, or in their place."""
    if not found:
        return "No single value explains the scale factors: look for two, or for a mistake."
    if len(found) == 1:
        return "One value would explain the scale factors:"
    return "Any one of these would explain the scale factors, likeliest first:"


def _explanation(one: Explanation) -> str:
    """What a value would have to be."""
    if one.unit == "setting":
        was = "" if one.planned is None else f" instead of {100.0 * one.planned:.1f} %"
        return f"{one.part} stands at {100.0 * one.found:.1f} % of travel from ccw{was}"
    if one.unit == "ohm" and one.planned == 0.0:
        return f"contact {one.name} has {in_ohms(one.found)}: clean it"
    was = "" if one.planned is None else f" instead of {_ohms_or_amps(one.planned, one.unit)}"
    off = "" if one.off_percent is None else f", {one.off_percent:+.1f} %"
    own = f" (its tolerance is {one.tolerance_percent:g} %)" if one.tolerance_percent else ""
    return f"{one.name} is {_ohms_or_amps(one.found, one.unit)}{was}{off}{own}"


def _ohms_or_amps(value: float, unit: str) -> str:
    return in_ohms(value) if unit == "ohm" else with_unit(value, unit)


def acceptance_tables(found: Sequence[Outcome]) -> Iterator[Table]:
    """Each test, what was expected, what was found, and whether that will do."""
    head = ("test", "expected", "found", "", "remark")
    rows = tuple(
        (Cell(one.test.test, bold=True), Cell(one.test.expect), *_result(one)) for one in found
    )
    if rows:
        yield used_columns(Table(head, rows, "Acceptance tests"))


def _result(one: Outcome) -> tuple[Cell, ...]:
    if one.found is None:
        return row("not tested", "–", "")
    return Cell(one.found.found), pass_cell(one.passed), Cell(one.found.note or "")


def _accepted(one: Outcome) -> JSON:
    found = None if one.found is None else one.found.found
    return {"test": one.test.test, "expect": one.test.expect, "found": found, "passed": one.passed}


KEYS: Keys = {
    Calibration: "passed runs explanations movements",
    Explanation: "value=name part unit planned found off_percent tolerance_percent",
    Determined: "part ohms sigma_ohms=sigma",
    Run: "reading passed scale expected_scale=expected scale_sigma zero_percent linearity_percent "
    "points",
    RunPoint: "applied=entry.applied indicated=entry.indicated error_percent low_percent "
    "high_percent passed",
    Outcome: _accepted,
}
"""For ``as_json``."""


# What stands in a bench log: plain data -----------------------------------------------------


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
