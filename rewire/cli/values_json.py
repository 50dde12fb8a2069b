"""Values as machine output: the mapping that the format's page on outputs fixes, and more."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import asdict
from math import isfinite
from typing import Any

from rewire.values.model import (
    BenchTest,
    Combination,
    Fit,
    Mishap,
    PartStress,
    PotAnswer,
    Readout,
    WiringValues,
)

JSON = dict[str, Any]


def valued(file: str, results: Iterable[WiringValues]) -> JSON:
    """What ``rewire values`` answers on one spec."""
    found = [_result(result) for result in results]
    return {"rewire": 1, "command": "values", "spec": file, "results": found}


def _result(result: WiringValues) -> JSON:
    return {
        "wiring": result.wiring,
        "good": result.answer == "good",
        "answer": result.answer,
        "ratings_exceeded": list(result.exceeded),
        "ratings_unknown": list(result.unrated),
        "overload": result.overload,
        "readings": [_reading(reading) for reading in result.readings],
        "fits": [_fit(fit) for fit in result.fits],
        "pots": [_pot(pot) for pot in result.pots],
        "parts": [_part(part) for part in result.parts],
        "bench": [_bench(test) for test in result.bench],
        "switching": [_moment(moment) for moment in result.switching],
        "faults": [
            {**_mishap(fault), "strains": [asdict(strain) for strain in fault.strains]}
            for fault in result.faults
        ],
        "warnings": [asdict(warning) for warning in result.warnings],
    }


def _reading(one: Readout) -> JSON:
    spread = one.spread
    return {
        "name": one.name,
        "state": dict(one.state),
        "meter": one.meter,
        "deflection": finite(one.deflection),
        "error_percent": finite(one.error_percent),
        "worst_low_percent": finite(one.worst_low_percent),
        "worst_high_percent": finite(one.worst_high_percent),
        "no_tolerance": list(one.unstated),
        "accuracy_percent": one.accuracy_percent,
        "accept_percent": one.accept_percent,
        "insertion_ohms": finite(one.insertion_ohms),
        "original_insertion_ohms": finite(one.original_insertion_ohms),
        "loading_percent": one.loading_percent,
        "original_loading_percent": one.original_loading_percent,
        "meter_amps": finite(one.meter_amps),
        "off": one.off,
        "refused": one.refused,
        "percent_per_10_kelvin": finite(one.percent_per_10_kelvin),
        "contributions": [
            {"value": s.value, "low_percent": s.low_percent, "high_percent": s.high_percent}
            for s in one.shares
        ],
        "monte_carlo": None
        if spread is None
        else {
            "samples": spread.samples,
            "seed": spread.seed,
            "within": 99,
            "uniform_percent": list(spread.uniform_percent),
            "normal_percent": list(spread.normal_percent),
        },
        "trimmed_percent": None if one.trimmed_percent is None else list(one.trimmed_percent),
        "note": one.note,
    }


def _fit(fit: Fit) -> JSON:
    return {
        "part": fit.part,
        "reading": fit.reading,
        "exact_ohms": fit.exact_ohms,
        "chosen_ohms": fit.chosen_ohms,
        "chosen": fit.chosen,
        "error_percent": finite(fit.error_percent),
        "choose": fit.choose,
        "combinations": [_combination(one) for one in fit.others],
        "why": fit.why,
    }


def _combination(one: Combination) -> JSON:
    return {
        "written": one.written,
        "ohms": one.ohms,
        "error_percent": one.error_percent,
        "tolerance_percent": one.tolerance_percent,
        "pieces": [asdict(piece) for piece in one.pieces],
    }


def _pot(pot: PotAnswer) -> JSON:
    left = pot.left_percent
    return {
        "part": pot.part,
        "reading": pot.reading,
        "setting_percent": pot.setting_percent,
        "solutions_percent": list(pot.solutions),
        "reaches": pot.reaches,
        "lowest_percent": finite(pot.lowest_percent),
        "highest_percent": finite(pot.highest_percent),
        "left_percent": None if left is None else [finite(left[0]), finite(left[1])],
        "percent_per_percent": finite(pot.percent_per_percent),
        "times_full_scale": {
            "wiper_open": finite(pot.when_open),
            "at_ccw": finite(pot.at_ccw),
            "at_cw": finite(pot.at_cw),
        },
        "advice": pot.advice,
        "why": pot.why,
    }


def _part(part: PartStress) -> JSON:
    return {
        "part": part.part,
        "watts": finite(part.watts),
        "reading": part.reading,
        "rating_watts": part.rating_watts,
        "ok": part.ok,
        "volts": finite(part.volts),
        "working_volts": part.working_volts,
        "amps": finite(part.amps),
        "overload_watts": finite(part.overload_watts),
        "risen_watts": finite(part.risen_watts),
        "risen_volts": finite(part.risen_volts),
        "why": part.why,
    }


def _bench(test: BenchTest) -> JSON:
    return {
        "reading": test.reading,
        "quantity": test.quantity,
        "series_ohms": test.series_ohms,
        "plus": test.places[0],
        "minus": test.places[1],
        "rows": [
            {
                "percent": row.percent,
                "true": row.true_value,
                "supply_volts": row.supply_volts,
                "supply_amps": row.supply_amps,
                "knob_volts": row.knob_volts,
                "deflection": finite(row.deflection),
                "series_watts": row.series_watts,
                "mark": row.mark,
                "ok": True,
            }
            for row in test.rows
        ],
        "left_out": list(test.left_out),
        "notes": list(test.notes),
        "sense": None if test.sense is None else asdict(test.sense),
    }


def _mishap(one: Mishap) -> JSON:
    return {
        "what": one.what,
        "reading": one.reading,
        "times_full_scale": finite(one.times_full_scale),
        "deflection": finite(one.deflection),
        "overload": one.overload,
        "rules": list(one.rules),
        "rises": [{"place": place, "volts": volts} for place, volts in one.rises],
        "message": one.message,
    }


def _moment(one: Mishap) -> JSON:
    return {**_mishap(one), "in_step": one.in_step, "as_original": one.as_original}


def finite(value: float | None) -> float | None:
    """A number that JSON can hold; None for what has no bounds."""
    return value if value is not None and isfinite(value) else None
