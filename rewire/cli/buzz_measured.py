"""Calibration and acceptance of a bench log, on a terminal and as JSON."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from typing import TYPE_CHECKING

from rewire.bench.calibration import explanation_said, explanations_said
from rewire.cli.as_json import JSON
from rewire.cli.table import table
from rewire.cli.terminal import Line, Mark
from rewire.words.quantity import in_ohms, with_unit

if TYPE_CHECKING:
    from rewire.bench.acceptance import Outcome
    from rewire.bench.calibration import Calibration, Point, Run
    from rewire.records.spec import Wiring

Said = Line | str
_UNITS = {"current": "A", "voltage": "V"}
_MOST = 6


def calibration_report(wiring: Wiring, found: Calibration) -> Iterator[Said]:
    """The runs, point by point, and what would explain what is off."""
    for run in found.runs:
        yield ""
        unit = _UNITS[wiring.readings[run.reading].quantity]
        yield Line(_line_said(run), label=f"{run.reading}: {verdict(run.passed)}:",
                   mark=_mark(run.passed))  # fmt: skip
        rows = [point_row(point, unit) for point in run.points]
        head = ("applied", "indicated", "error", "allowed", "")
        yield from table(head, rows, words=(4,))
    yield from _explained(found)
    for movement in found.movements:
        yield Line(
            f"{movement.part} has {in_ohms(movement.ohms)} ± {in_ohms(2.0 * movement.sigma, 2)} by "
            "these runs, whatever its sensitivity",
            2,
            "-",
        )


def verdict(passed: bool | None) -> str:
    """``pass``, ``fail`` or ``not judged``."""
    return "not judged" if passed is None else "pass" if passed else "fail"


def _mark(passed: bool | None) -> Mark:
    return "meant" if passed is None else "good" if passed else "bad"


def _line_said(run: Run) -> str:
    if run.scale is None:
        return "nothing but zero was read"
    said = f"scale factor {run.scale:.4g}"
    if run.expected is not None:
        said += f" (the values give {run.expected:.4g})"
    said += f", zero {run.zero_percent:+.2g} % of full scale"
    if run.linearity_percent is not None:
        said += f", at most {run.linearity_percent:.2g} % off the line"
    return said


def point_row(point: Point, unit: str) -> tuple[str, str, str, str, str]:
    """Cells of one point: applied, indicated, error, allowed, verdict."""
    allowed = (
        "unknown"
        if point.low_percent is None or point.high_percent is None
        else f"{point.low_percent:+.1f} to {point.high_percent:+.1f} %"
    )
    return (
        with_unit(point.entry.applied, unit), with_unit(point.entry.indicated, unit),
        f"{point.error_percent:+.2f} %", allowed, verdict(point.passed),
    )  # fmt: skip


def _explained(found: Calibration) -> Iterator[Said]:
    if not found.off:
        return
    yield ""
    mark: Mark = "plain" if found.explanations else "bad"
    yield Line(explanations_said(found.explanations), mark=mark)
    for number, one in enumerate(found.explanations[:_MOST], 1):
        yield Line(explanation_said(one), 2, f"{number}.")
    if len(found.explanations) > _MOST:
        yield Line(f"and {len(found.explanations) - _MOST} more", 2, "-")


def acceptance_report(found: Sequence[Outcome]) -> Iterator[Said]:
    """Each test, what was expected, what was found, and whether that will do."""
    if not found:
        return
    yield ""
    yield Line("Acceptance tests:")
    rows = [
        (
            one.test.test,
            one.test.expect,
            "not tested" if one.found is None else one.found.found,
            "" if one.found is None else verdict(one.passed),
        )
        for one in found
    ]
    yield from table(("test", "expected", "found", ""), rows, words=range(4))


def calibration_json(found: Calibration) -> JSON:
    """Runs, explanations and movements."""
    return {
        "passed": found.passed,
        "runs": [_run_json(run) for run in found.runs],
        "explanations": [
            {
                "value": one.name, "part": one.part, "unit": one.unit, "planned": one.planned,
                "found": one.found, "off_percent": one.off_percent,
                "tolerance_percent": one.tolerance_percent,
            }
            for one in found.explanations
        ],
        "movements": [
            {"part": one.part, "ohms": one.ohms, "sigma_ohms": one.sigma}
            for one in found.movements
        ],
    }  # fmt: skip


def _run_json(run: Run) -> JSON:
    return {
        "reading": run.reading, "passed": run.passed, "scale": run.scale,
        "expected_scale": run.expected, "scale_sigma": run.scale_sigma,
        "zero_percent": run.zero_percent, "linearity_percent": run.linearity_percent,
        "points": [
            {
                "applied": point.entry.applied, "indicated": point.entry.indicated,
                "error_percent": point.error_percent, "low_percent": point.low_percent,
                "high_percent": point.high_percent, "passed": point.passed,
            }
            for point in run.points
        ],
    }  # fmt: skip


def acceptance_json(found: Sequence[Outcome]) -> list[JSON]:
    """Tests with what was found."""
    return [
        {
            "test": one.test.test, "expect": one.test.expect,
            "found": None if one.found is None else one.found.found, "passed": one.passed,
        }
        for one in found
    ]  # fmt: skip
