"""What `rewire values --full` adds, and what it tells machines: the evidence for each figure."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from math import isfinite, isinf

from rewire.records.spec import Role
from rewire.report.machine import JSON, Keys, as_json, picked
from rewire.report.options import options_section
from rewire.report.section import ReportSection, Table, Words, table_of
from rewire.report.values import (
    FAILS,
    TURNS,
    caution_words,
    load_section,
    mishap_section,
    pointer_said,
    reading_blocks,
    telling,
    verdict_words,
    work_blocks,
)
from rewire.values.answers import (
    BenchRow,
    BenchTest,
    DialFactor,
    Fit,
    Mishap,
    OptionRow,
    PartStress,
    PotAnswer,
    Readout,
    Share,
    Spread,
    WiringValues,
)
from rewire.words.quantity import in_ohms, in_percent, with_unit

_MOST = 12
"""Mishaps that are told one by one."""
_TELLING = 0.05
"""Percent of full scale from which a share of the error is told."""


def full_sections(
    result: WiringValues, broken: bool, role: Role | None, wound: Sequence[ReportSection] = ()
) -> Iterator[ReportSection]:
    """The same with its evidence: what makes the errors, loads, bench tests, every fault."""
    stops = map(_stops, (pot for pot in result.pots if pot.setting_percent is not None))
    head = (*verdict_words(result, broken, role), *work_blocks(result), *stops)
    yield ReportSection("values", "", head)
    yield from wound
    blocks = (*reading_blocks(result.readings), *_contributions(result.readings))
    yield ReportSection("readings", "", blocks)
    yield ReportSection("mind", "Mind", tuple(caution_words(result.warnings)))
    yield load_section(result)
    yield options_section(result.options)
    yield from (_bench(test) for test in result.bench)
    yield mishap_section(TURNS, _all_told(result.switching))
    yield mishap_section(FAILS, _all_told(result.faults))


def _stops(pot: PotAnswer) -> Words:
    """What the travel does, and what the meter takes at its ends."""
    ends = (("at ccw", pot.at_ccw), ("at cw", pot.at_cw), ("wiper open", pot.when_open))
    takes = ", ".join(f"{end} {_times(value)}" for end, value in ends)
    slope = pot.percent_per_percent
    turned = "" if slope is None else f"1 % of travel is {in_percent(slope)} of reading; "
    return Words(f"{turned}meter, times full scale: {takes}", f"{pot.part}:", indent=4)


def _times(value: float | None) -> str:
    if value is None:
        return "unknown"
    if isinf(value):
        return "no limit"
    return f"{value:.0f}" if abs(value) >= 10 else f"{value:.2f}"


def _contributions(readings: Sequence[Readout]) -> Iterator[Words]:
    """Which values matter most, one line for each reading."""
    telling = {one.name: [s for s in one.shares if s.size >= _TELLING][:4] for one in readings}
    if any(telling.values()):
        yield Words("What makes the error, ± percent of full scale:")
    for one in readings:
        shares = telling[one.name]
        if shares:
            yield Words(_contribution(one, shares), f"{one.name}:", indent=4)


def _size(share: Share) -> str:
    return f"{share.size:.1f}" if isfinite(share.size) else "without bound"


def _contribution(one: Readout, shares: Sequence[Share]) -> str:
    own = f"meter's accuracy {one.accuracy_percent:g}, " if one.accuracy_percent else ""
    most = ", ".join(f"{share.value} {_size(share)}" for share in shares)
    warm = one.percent_per_10_kelvin
    heat = f"; 10 °C warmer: {warm:+.1f}" if warm and abs(warm) >= _TELLING else ""
    return f"{own}{most}{heat}"


def _bench(test: BenchTest) -> ReportSection:
    notes = tuple(Words(note, "-", indent=4) for note in test.notes)
    if not test.rows:
        said = Words(f"Bench test, {test.reading}: leg by leg")
        return ReportSection("bench", "", (said, *notes))
    series = f" through {in_ohms(test.series_ohms)}" if test.series_ohms else ""
    plus, minus = test.places
    said = Words(f"Bench test, {test.reading}: feed {plus} (+) and {minus} (-){series}")
    return ReportSection("bench", "", (said, _steps(test), *notes))


def _steps(test: BenchTest) -> Table:
    true, unit = ("true current", "A") if test.quantity == "current" else ("true volts", "V")
    return table_of({
        "step": [f"{line.percent:.3g} %" for line in test.rows],
        "supply, about": [with_unit(line.knob_volts, "V") for line in test.rows],
        true: [with_unit(line.true_value, unit) for line in test.rows],
        "pointer": [pointer_said(line.deflection) for line in test.rows],
        "in series R": [
            with_unit(line.series_watts, "W", 3) if test.series_ohms else "" for line in test.rows
        ],
        "": [line.mark or "" for line in test.rows],
    }, words=("step", ""))  # fmt: skip


def _all_told(mishaps: Sequence[Mishap]) -> list[str]:
    """Up to a dozen in full, and how many are left."""
    told = [one.message for one in telling(mishaps)]
    if mishaps and not told:
        return ["nothing worse than at rest: no overload, no rule broken, no point rises"]
    left = len(told) - _MOST
    return told[:_MOST] + ([f"and {left} more, none worse (--json lists all)"] if left > 0 else [])


def result_as_json(result: WiringValues) -> JSON:
    """One wiring, as ``rewire values`` gives it."""
    told: JSON = as_json(result, _KEYS)
    return told


def _result(result: WiringValues) -> JSON:
    same = (
        "wiring answer overload readings fits pots parts bench warnings options "
        "ratings_exceeded=exceeded ratings_unknown=unrated"
    )
    return {
        **picked(result, same),
        "good": result.answer == "good",
        "switching": [_mishap(one, "in_step as_original") for one in result.switching],
        "faults": [_mishap(one, "strains") for one in result.faults],
    }


def _mishap(one: Mishap, more: str) -> JSON:
    told = picked(one, f"what reading times_full_scale deflection overload rules message {more}")
    return {**told, "rises": [{"place": place, "volts": volts} for place, volts in one.rises]}


def _pot(pot: PotAnswer) -> JSON:
    same = (
        "part reading setting_percent reaches lowest_percent highest_percent left_percent "
        "percent_per_percent advice why solutions_percent=solutions"
    )
    ends = picked(pot, "wiper_open=when_open at_ccw at_cw")
    return {**picked(pot, same), "times_full_scale": ends}


def _spread(spread: Spread) -> JSON:
    return {**picked(spread, "samples seed uniform_percent normal_percent"), "within": 99}


def _test(test: BenchTest) -> JSON:
    plus, minus = test.places
    told = picked(test, "reading quantity series_ohms rows left_out notes sense")
    return {**told, "plus": plus, "minus": minus}


def _bench_row(line: BenchRow) -> JSON:
    same = (
        "percent supply_volts supply_amps knob_volts deflection series_watts mark true=true_value"
    )
    return {**picked(line, same), "ok": True}


_KEYS: Keys = {
    WiringValues: _result,
    Readout: "name state meter deflection error_percent worst_low_percent worst_high_percent "
    "no_tolerance=unstated accuracy_percent accept_percent insertion_ohms "
    "original_insertion_ohms loading_percent original_loading_percent meter_amps off refused "
    "percent_per_10_kelvin contributions=shares monte_carlo=spread trimmed_percent note dial",
    DialFactor: "scale factor unit at_sight on_meter better said",
    Spread: _spread,
    Fit: "part reading exact_ohms chosen_ohms chosen error_percent choose combinations=others why",
    PotAnswer: _pot,
    PartStress: "part watts reading rating_watts ok volts working_volts amps overload_watts "
    "risen_watts risen_volts why",
    OptionRow: "whose meter full_scale_amps full_scale_volts resistance note works why parts "
    "readings",
    BenchTest: _test,
    BenchRow: _bench_row,
}
