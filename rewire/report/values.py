"""Values: good or bad and why, then a table per wiring and what follows; the same for machines."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from math import isfinite, isinf

from rewire.records.spec import Role
from rewire.report.check import as_told
from rewire.report.machine import JSON, Keys, as_json, picked
from rewire.report.options import options_section
from rewire.report.section import Block, ReportSection, Table, Tone, Words, row, table_of
from rewire.values.answers import (
    BenchRow,
    BenchTest,
    Caution,
    Combination,
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
from rewire.words.wire import wire_length, wire_warning
from rewire.words.wording import listing

_MOST = 12
"""Cautions, or mishaps, that are told one by one."""
_MOST_NAMED = 4
_TELLING = 0.05
"""Percent of full scale from which a share of the error is told."""
_SHORT = 0.05
"""Metres of wire that are cut to length well enough; common practice, no source."""
_LONG = 20.0
"""Metres of wire that nobody winds by hand; common practice, no source."""
_LABELS: dict[str, tuple[str, Tone]] = {
    "good": ("GOOD:", "good"),
    "bad": ("BAD:", "bad"),
    "unknown": ("NOT SETTLED:", "bad"),
}


def sections(
    result: WiringValues, broken: bool, role: Role | None, wound: Sequence[ReportSection] = ()
) -> Iterator[ReportSection]:
    """One wiring: verdict, what to fit and set, readings, cautions, stress, bench test, mishaps.

    Args:
        result: what was worked out.
        broken: whether the wiring does not keep what the original does.
        role: of the wiring.
        wound: how the resistors can be wound.
    """
    danger = Words(
        f"{result.wiring} does not keep what the original does: do not power it up, "
        "whatever its figures (rewire check)", "BROKEN:", tone="bad",
    )  # fmt: skip
    head = (*_verdict(result, as_told(role)), *_fits(result.fits), *_pots(result.pots))
    yield ReportSection("values", "", (danger, *head) if broken else head)
    yield from wound
    yield ReportSection("readings", "", tuple(_readings(result.readings)))
    yield _cautions(result)
    yield _stresses(result.parts, result.overload)
    yield options_section(result.options)
    yield from (_bench(test) for test in result.bench)
    yield _mishaps("While switching, worst first", result.switching)
    yield _mishaps("If one thing fails, worst first", result.faults)


def sum_sections(
    result: WiringValues, wound: Sequence[ReportSection] = ()
) -> Iterator[ReportSection]:
    """A quick sum: what to fit, what it makes the meter read and has to stand, what to mind."""
    yield ReportSection("values", "", tuple(_fits(result.fits)))
    stresses = {part.part: part for part in result.parts}
    found = [
        (fit, reading, stresses[fit.part])
        for fit, reading in zip(result.fits, result.readings, strict=True)
        if reading.deflection is not None
    ]
    table = table_of({
        "part": [fit.part for fit, _, _ in found],
        "range": [fit.reading for fit, _, _ in found],
        "pointer": [f"{100 * (reading.deflection or 0.0):.2f} %" for _, reading, _ in found],
        "worst case": [_band(r.worst_low_percent, r.worst_high_percent) for _, r, _ in found],
        "in circuit": [_in_path(reading.insertion_ohms) for _, reading, _ in found],
        "most watts": [with_unit(stress.watts, "W", 3) for _, _, stress in found],
        "most volts": [with_unit(stress.volts, "V", 3) for _, _, stress in found],
    }, words=("part", "range"))  # fmt: skip
    yield ReportSection("readings", "", (table,))
    yield from wound
    yield _cautions(result)


def _verdict(result: WiringValues, role: str) -> Iterator[Words]:
    """The answer with its reasons and counts, then the warnings that must not be missed."""
    label, tone = _LABELS[result.answer]
    reasons = [*_wrong(result), *_right(result), *_unknown(result)] or ["nothing is read"]
    name = f"{result.wiring}{role.rstrip(',')}"
    yield Words(f"{name}: {'; '.join(reasons)}. {_ratings(result)}", label, tone=tone)
    yield from (Words(w.message, "!", tone="bad", indent=2) for w in result.warnings if w.first)


def _ratings(result: WiringValues) -> str:
    named = f" ({_some(result.unrated)})" if result.unrated else ""
    return f"Ratings: {len(result.exceeded)} exceeded, {len(result.unrated)} unknown{named}."


def _some(names: Sequence[str]) -> str:
    left = len(names) - _MOST_NAMED
    return ", ".join(names[:_MOST_NAMED]) + (f" and {left} more" if left > 0 else "")


def _right(result: WiringValues) -> Iterator[str]:
    """The readings that come out right, if all of them do or the rest is not known."""
    right = [r for r in result.readings if r.deflection is not None and not r.off]
    if result.bad or not right:
        return
    said = f"{listing([r.name for r in right])} {'reads' if len(right) == 1 else 'read'} right"
    pots = [pot.part for pot in result.pots if pot.setting_percent is not None]
    if pots:
        said += f" once {listing(pots)} {'is' if len(pots) == 1 else 'are'} set"
    bare = tuple(dict.fromkeys(part for r in right if not r.trimmed_percent for part in r.unstated))
    if bare:
        said += f" by nominal values; worst case not known, no tolerance given for {_some(bare)}"
    yield said


def _unknown(result: WiringValues) -> Iterator[str]:
    unknown = [r.name for r in result.readings if r.unknown]
    if unknown:
        count = f" ({len(unknown)} of {len(result.readings)} readings)"
        yield f"{listing(unknown)} not known{count if len(result.readings) > 1 else ''}"


def _wrong(result: WiringValues) -> Iterator[str]:
    yield from (_off(one) for one in result.readings if one.off)
    unfit = [fit.part for fit in result.fits if fit.exact_ohms is None]
    unfit += [pot.part for pot in result.pots if pot.setting_percent is None]
    if unfit:
        yield f"nothing fits for {listing(unfit)}"
    short = [p.part for p in result.pots if p.setting_percent is not None and p.reaches is False]
    if short:
        yield f"{listing(short)} cannot always reach its setting"
    if result.exceeded:
        yield f"a rating is exceeded at {listing(result.exceeded)}"
    yield from (w.message for w in result.warnings if w.bad and not w.is_rating and not w.first)
    if result.bad_moments:
        yield f"while switching, {result.bad_moments[0].message.rsplit(' (', 1)[0]}"


def _off(one: Readout) -> str:
    """What is wrong with a reading that is off."""
    if one.deflection is None or one.error_percent is None:
        return f"{one.name} cannot be read: {one.note}"
    if abs(one.error_percent) > one.accept_percent:
        return f"{one.name} stands at {100 * one.deflection:.4g} % of full scale, not at 100 %"
    most = max(abs(end) for end in one.allowed())
    much = f"{most:.1f} % of full scale off" if isfinite(most) else "off without bound"
    return f"{one.name} may be {much}, more than {one.accept_percent:g} %"


def _fits(fits: Sequence[Fit]) -> Iterator[Block]:
    """Resistors that were open: what to fit, and what it does."""
    for fit in fits:
        if fit.exact_ohms is None:
            said = f"{fit.part} for {fit.reading}: {fit.why or 'nothing fits'}"
            yield Words(said, "fit", tone="bad", indent=2)
            continue
        yield Words(_chosen(fit), "fit", indent=2)
        if fit.why:
            yield Words(fit.why, "-", indent=4)
        if fit.others:
            yield _combinations(fit.others)


def _chosen(fit: Fit) -> str:
    exact = f"exactly {in_ohms(fit.exact_ohms, 5)}"
    if not fit.others and fit.choose in (None, "exact", "drawer"):
        return f"{fit.part} for {fit.reading}: {exact}"
    way = f"{fit.choose}, " if fit.choose and not fit.others else ""
    taken = f"{fit.part} = {_bench_ohms(fit.chosen or '')} ({way}{exact})"
    return f"{taken}: {fit.reading} {_reads(fit.error_percent)}"


def _reads(error_percent: float | None) -> str:
    """What an error of full scale means for the one who reads it."""
    if error_percent is None:
        return "unknown what it then reads"
    if float(f"{error_percent:.2f}") == 0.0:
        return "reads right"
    size = in_percent(abs(error_percent)).lstrip("+")
    return f"reads {size} {'high' if error_percent > 0 else 'low'} at full scale"


def _bench_ohms(written: str) -> str:
    """A value as on a drawing, from how a spec writes it."""
    return written.replace("ohm", "Ω")


def _combinations(others: Sequence[Combination]) -> Table:
    head = ("from the drawer", "pieces", "makes", "error", "of rating")
    rows = tuple(row(*_combination(one)) for one in others)
    return Table(head, rows, figures=frozenset(head[1:]))


def _combination(one: Combination) -> tuple[str, ...]:
    rated = [p for p in one.pieces if p.rating_watts]
    worst = max(((p.watts or 0.0) / (p.rating_watts or 1.0) for p in rated), default=None)
    load = "unknown" if worst is None else f"{100 * worst:.0f} %"
    error = f"{one.error_percent:+.3g} %" if abs(one.error_percent) < 1000 else "useless"
    pieces = str(len(one.pieces))
    return _bench_ohms(one.written), pieces, in_ohms(one.ohms, 6), error, load


def wound_section(fits: Sequence[Fit], gauge: int, metal: str) -> ReportSection:
    """The length of wire, AWG, that each resistor which was found can be wound from."""
    found = [(fit.part, wire_length(fit.exact_ohms, gauge, metal))
             for fit in fits if fit.exact_ohms is not None]  # fmt: skip
    lines = [
        Words(f"{with_unit(metres, 'm', 4)} of {metal} wire, AWG {gauge}{_windable(metres)}",
              f"{part}:", indent=2)
        for part, metres in found
    ]  # fmt: skip
    warning = Words(wire_warning(metal), "-", indent=2)
    title = "Wound from wire, leads and joints on top"
    return ReportSection("wound", title, (*lines, warning) if lines else ())


def _windable(metres: float) -> str:
    if metres < _SHORT:
        return "; too short to trim: take a thicker wire"
    return "; too long to wind: take a thinner wire, or a resistor" if metres > _LONG else ""


def _pots(pots: Sequence[PotAnswer]) -> Iterator[Words]:
    for pot in pots:
        if pot.setting_percent is None:
            said = f"{pot.part} for {pot.reading}: {pot.why or 'no setting does it'}"
            yield Words(said, "set", tone="bad", indent=2)
            continue
        tone: Tone = "bad" if pot.reaches is False else "plain"
        yield Words(_setting(pot), "set", tone=tone, indent=2)
        if pot.why:
            yield Words(pot.why, "-", tone=tone, indent=4)
        yield Words(_stops(pot), "-", indent=4)
        if pot.advice:
            yield Words(pot.advice, "-", indent=4)


def _setting(pot: PotAnswer) -> str:
    others = [f"{s:.1f} %" for s in pot.solutions[1:]]
    also = f" (or {', '.join(others)})" if others else ""
    said = f"{pot.part} in {pot.reading}: {pot.setting_percent:.1f} % from ccw{also}"
    if pot.lowest_percent is not None and pot.highest_percent is not None:
        said += f"; {_span(pot.lowest_percent, pot.highest_percent)} may be needed"
    if pot.percent_per_percent is not None:
        said += f"; 1 % of travel is {in_percent(pot.percent_per_percent)} of reading"
    return said


def _span(low: float, high: float) -> str:
    digits = 0 if high - low >= 5.0 else 2
    shown = [f"{x:.{digits}f}" if abs(x) < 1000 else "no setting" for x in (low, high)]
    return f"{shown[0]} to {shown[1]} %"


def _stops(pot: PotAnswer) -> str:
    cases = (("at ccw", pot.at_ccw), ("at cw", pot.at_cw), ("wiper open", pot.when_open))
    seen = ", ".join(f"{said} {_times(value)}" for said, value in cases)
    return f"meter, times full scale: {seen}"


def _times(value: float | None) -> str:
    if value is None:
        return "unknown"
    if isinf(value):
        return "no limit"
    return f"{value:.0f}" if abs(value) >= 10 else f"{value:.2f}"


def _readings(readings: Sequence[Readout]) -> Iterator[Block]:
    yield table_of({
        "reading": [one.name for one in readings],
        "pointer": [_pointer(one.deflection) for one in readings],
        "error": [
            "" if one.deflection is None else in_percent(one.error_percent) for one in readings
        ],
        "worst case": [_band(one.worst_low_percent, one.worst_high_percent) for one in readings],
        "after setting": [_band(*(one.trimmed_percent or (None, None))) for one in readings],
        "in circuit": [_in_path(one.insertion_ohms) for one in readings],
        "was": [_in_path(one.original_insertion_ohms) for one in readings],
    }, words=("reading",))  # fmt: skip
    for one in readings:
        if one.note:
            yield Words(f"{one.name}: {one.note}", "-", indent=2)
        if one.unstated and not one.trimmed_percent:
            yield Words(f"{one.name}: {one.not_known}", "-", indent=2)
        yield from _drives(one)
    yield from _contributions(readings)


def _drives(one: Readout) -> Iterator[Words]:
    """What the meter gets, and what it should get, where that is far apart."""
    if abs(one.error_percent or 0.0) > one.accept_percent and (one.deflection or 0.0) > 0:
        right = one.meter_amps and one.meter_amps / (one.deflection or 1.0)
        gets, wants = (with_unit(amps, "A", 3) for amps in (one.meter_amps, right))
        said = f"{one.name}: {one.meter} gets {gets} where it should get {wants}"
        yield Words(said, "-", tone="bad", indent=2)


def _pointer(deflection: float | None) -> str:
    return "unknown" if deflection is None else f"{100.0 * deflection:.1f} %"


def _in_path(ohms: float | None) -> str:
    """What a drive sees, ohm; infinite where it finds no way."""
    return "no path" if ohms is not None and isinf(ohms) else in_ohms(ohms)


def _band(low: float | None, high: float | None) -> str:
    """Least and greatest error, percent of full scale; nothing where it is not known."""
    if low is None or high is None:
        return ""
    ends = [f"{x:+.1f}" if isfinite(x) else "no bound" for x in (low, high)]
    return f"{ends[0]}/{ends[1]}{' %' if isfinite(high) else ''}"


def _contributions(readings: Sequence[Readout]) -> Iterator[Words]:
    """Which values matter most, one line for each reading."""
    telling = {one.name: [s for s in one.shares if s.size >= _TELLING][:4] for one in readings}
    if any(telling.values()):
        yield Words("What makes the error, ± percent of full scale:")
    for one in readings:
        shares = telling[one.name]
        if shares:
            yield Words(_contribution(one, shares), f"{one.name}:", indent=4)


def _contribution(one: Readout, shares: Sequence[Share]) -> str:
    own = f"meter's accuracy {one.accuracy_percent:g}, " if one.accuracy_percent else ""
    most = ", ".join(
        f"{s.value} {f'{s.size:.1f}' if isfinite(s.size) else 'without bound'}" for s in shares
    )
    warm = one.percent_per_10_kelvin
    heat = f"; 10 °C warmer: {warm:+.1f}" if warm and abs(warm) >= _TELLING else ""
    return f"{own}{most}{heat}"


def _cautions(result: WiringValues) -> ReportSection:
    """What to mind, the bad first."""
    ordered = sorted((w for w in result.warnings if not w.first), key=lambda w: not w.bad)
    left = len(ordered) - _MOST
    more = (Words(f"and {left} more (--json lists all)", "-", indent=2),) if left > 0 else ()
    return ReportSection("mind", "Mind", (*map(_caution, ordered[:_MOST]), *more))


def _caution(one: Caution) -> Words:
    return Words(one.message, "!" if one.bad else "-", tone="bad" if one.bad else "plain", indent=2)


def _stresses(parts: Sequence[PartStress], overload: float | None) -> ReportSection:
    carrying = [part for part in parts if part.watts is not None]
    table = table_of({
        "part": [part.part for part in carrying],
        "worst in": [part.reading or "" for part in carrying],
        "watts": [with_unit(part.watts, "W", 3) for part in carrying],
        f"at {overload or 1:g}×": [_stated(part.overload_watts, "W") for part in carrying],
        "rating": [_stated(part.rating_watts, "W") for part in carrying],
        "volts": [with_unit(part.volts, "V", 3) for part in carrying],
        "stands": [_stated(part.working_volts, "V") for part in carrying],
        "current": [with_unit(part.amps, "A", 3) for part in carrying],
    }, words=("part", "worst in"))  # fmt: skip
    return ReportSection("parts", "At full scale the parts take", (table,) if carrying else ())


def _stated(value: float | None, unit: str) -> str:
    return "" if value is None else with_unit(value, unit, 3)


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
        "pointer": [_pointer(line.deflection) for line in test.rows],
        "in series R": [
            with_unit(line.series_watts, "W", 3) if test.series_ohms else "" for line in test.rows
        ],
        "": [line.mark or "" for line in test.rows],
    }, words=("step", ""))  # fmt: skip


def _mishaps(title: str, mishaps: Sequence[Mishap]) -> ReportSection:
    telling = [m.message for m in mishaps if m.bad or m.as_original or m.rises]
    left = len(telling) - _MOST
    more = [f"and {left} more, none worse (--json lists all)"] if left > 0 else []
    none = ["nothing that is not so at rest: no overload, no rule broken, no point floats up"]
    said = (*telling[:_MOST], *more) or (none if mishaps else ())
    return ReportSection("mishaps", title, tuple(Words(text, "-", indent=2) for text in said))


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
    "percent_per_10_kelvin contributions=shares monte_carlo=spread trimmed_percent note",
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
