"""Values in plain text, for somebody at the bench: one table per wiring, then what follows."""

from __future__ import annotations

from collections.abc import Callable, Collection, Iterator, Mapping, Sequence
from math import isfinite, isinf

from rewire.cli.table import table
from rewire.cli.terminal import Line
from rewire.cli.values_head import verdict_lines
from rewire.compare.words import as_told
from rewire.records.spec import Role
from rewire.values.model import (
    BenchTest,
    Fit,
    Mishap,
    PartStress,
    PotAnswer,
    Readout,
    WiringValues,
)
from rewire.words.quantity import in_ohms, in_percent, with_unit

_MOST_MISHAPS = 12
_MOST_CAUTIONS = 12

Said = Line | str
"""A line to be fitted to the terminal, or one of a table that stays as it is."""
Wound = Callable[[Sequence[Fit]], Iterator[Line]]


def report(
    results: Sequence[WiringValues], roles: Mapping[str, Role | None], broken: Collection[str],
    wound: Wound,
) -> Iterator[Said]:  # fmt: skip
    """All wirings, one after the other; ``wound`` says how fitted resistors can be wound."""
    for number, result in enumerate(results):
        if number:
            yield ""
        if result.wiring in broken:
            yield Line(
                f"{result.wiring} does not keep what the original does: do not power it up, "
                "whatever its figures (rewire check)", 0, "BROKEN:", "bad",
            )  # fmt: skip
        yield from _wiring(result, as_told(roles.get(result.wiring)), wound)


def _wiring(result: WiringValues, role: str, wound: Wound) -> Iterator[Said]:
    """One wiring: verdict, what to fit and set, readings, cautions, stress, bench test, mishaps."""
    yield from verdict_lines(result, role)
    yield from fit_lines(result.fits)
    yield from wound(result.fits)
    yield from _pots(result.pots)
    yield ""
    yield from _readings(result.readings)
    yield from caution_lines(result)
    yield from _parts(result.parts, result.overload)
    yield from _bench(result.bench)
    yield from _mishaps("While switching, worst first:", result.switching)
    yield from _mishaps("If one thing fails, worst first:", result.faults)


def _readings(readings: Sequence[Readout]) -> Iterator[Said]:
    columns = {
        "reading": [one.name for one in readings],
        "pointer": [_pointer(one.deflection) for one in readings],
        "error": [
            "" if one.deflection is None else in_percent(one.error_percent) for one in readings
        ],
        "worst case": [band(one.worst_low_percent, one.worst_high_percent) for one in readings],
        "after setting": [band(*(one.trimmed_percent or (None, None))) for one in readings],
        "in circuit": [in_path(one.insertion_ohms) for one in readings],
        "was": [in_path(one.original_insertion_ohms) for one in readings],
    }
    yield from filled(columns)
    for one in readings:
        if one.note:
            yield Line(f"{one.name}: {one.note}", 2, "-")
        if one.unstated and not one.trimmed_percent:
            yield Line(f"{one.name}: {one.not_known}", 2, "-")
        if abs(one.error_percent or 0.0) > one.accept_percent and (one.deflection or 0.0) > 0:
            gets, wants = (with_unit(x, "A", 3) for x in _amps(one))
            said = f"{one.name}: {one.meter} gets {gets} where it should get {wants}"
            yield Line(said, 2, "-", "bad")
    yield from _contributions(readings)


def filled(columns: Mapping[str, Sequence[str]], words: Collection[int] = (0,)) -> Iterator[str]:
    """A table of the columns that have something in them."""
    used = {head: cells for head, cells in columns.items() if any(cells)}
    yield from table(tuple(used), list(zip(*used.values(), strict=True)), words=words)


def _pointer(deflection: float | None) -> str:
    return "unknown" if deflection is None else f"{100.0 * deflection:.1f} %"


def in_path(ohms: float | None) -> str:
    """What a drive sees, ohm; infinite where it finds no way."""
    return "no path" if ohms is not None and isinf(ohms) else in_ohms(ohms)


def _amps(one: Readout) -> tuple[float | None, float | None]:
    """What the meter gets, and what it should get."""
    if one.meter_amps is None or not one.deflection:
        return None, None
    return one.meter_amps, one.meter_amps / one.deflection


def band(low: float | None, high: float | None) -> str:
    """Least and greatest error, percent of full scale; nothing where it is not known."""
    if low is None or high is None:
        return ""
    ends = [f"{x:+.1f}" if isfinite(x) else "no bound" for x in (low, high)]
    return f"{ends[0]}/{ends[1]}{' %' if isfinite(high) else ''}"


def _contributions(readings: Sequence[Readout]) -> Iterator[Said]:
    """Which values matter most, one line for each reading."""
    if any(s.size >= 0.05 for one in readings for s in one.shares):
        yield Line("What makes the error, ± percent of full scale:")
    for one in readings:
        telling = [s for s in one.shares if s.size >= 0.05][:4]
        if telling:
            own = f"meter's accuracy {one.accuracy_percent:g}, " if one.accuracy_percent else ""
            sizes = (f"{s.size:.1f}" if isfinite(s.size) else "without bound" for s in telling)
            most = ", ".join(f"{s.value} {said}" for s, said in zip(telling, sizes, strict=True))
            warm = one.percent_per_10_kelvin
            heat = f"; 10 °C warmer: {warm:+.1f}" if warm and abs(warm) >= 0.05 else ""
            yield Line(f"{own}{most}{heat}", 4, f"{one.name}:")


def fit_lines(fits: Sequence[Fit]) -> Iterator[Said]:
    """Resistors that were open: what to fit, and what it does."""
    for fit in fits:
        if fit.exact_ohms is None:
            said = f"{fit.part} for {fit.reading}: {fit.why or 'nothing fits'}"
            yield Line(said, 2, "fit", "bad")
            continue
        yield Line(_chosen(fit), 2, "fit")
        if fit.why:
            yield Line(fit.why, 4, "-")
        yield from _combinations(fit)


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
    size = in_percent(abs(error_percent)).lstrip("+")
    if float(f"{error_percent:.2f}") == 0.0:
        return "reads right"
    return f"reads {size} {'high' if error_percent > 0 else 'low'} at full scale"


def _bench_ohms(written: str) -> str:
    """A value as on a drawing, from how a spec writes it."""
    return written.replace("ohm", "Ω")


def _combinations(fit: Fit) -> Iterator[Said]:
    if not fit.others:
        return
    rows = []
    for one in fit.others:
        worst = max(
            (p.watts or 0.0) / p.rating_watts if p.rating_watts else 0.0 for p in one.pieces
        )
        load = f"{100 * worst:.0f} %" if any(p.rating_watts for p in one.pieces) else "unknown"
        error = f"{one.error_percent:+.3g} %" if abs(one.error_percent) < 1000 else "useless"
        rows.append(
            (_bench_ohms(one.written), str(len(one.pieces)), in_ohms(one.ohms, 6), error, load)
        )
    yield from table(("from the drawer", "pieces", "makes", "error", "of rating"), rows, 4)


def _pots(pots: Sequence[PotAnswer]) -> Iterator[Said]:
    for pot in pots:
        if pot.setting_percent is None:
            said = f"{pot.part} for {pot.reading}: {pot.why or 'no setting does it'}"
            yield Line(said, 2, "set", "bad")
            continue
        yield Line(_setting(pot), 2, "set", "plain" if pot.reaches is not False else "bad")
        if pot.why:
            yield Line(pot.why, 4, "-", "plain" if pot.reaches is not False else "bad")
        yield Line(_stops(pot), 4, "-")
        if pot.advice:
            yield Line(pot.advice, 4, "-")


def _setting(pot: PotAnswer) -> str:
    others = [f"{s:.1f} %" for s in pot.solutions[1:]]
    also = f" (or {', '.join(others)})" if others else ""
    said = f"{pot.part} in {pot.reading}: {pot.setting_percent:.1f} % from ccw{also}"
    if pot.lowest_percent is not None and pot.highest_percent is not None:
        said += f"; {_span(pot)} may be needed"
    if pot.percent_per_percent is not None:
        said += f"; 1 % of travel is {in_percent(pot.percent_per_percent)} of reading"
    return said


def _span(pot: PotAnswer) -> str:
    low, high = pot.lowest_percent, pot.highest_percent
    if low is None or high is None:
        return "unknown"
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


def caution_lines(result: WiringValues) -> Iterator[Said]:
    """What to mind, the bad first."""
    ordered = sorted((w for w in result.warnings if not w.first), key=lambda w: not w.bad)
    if ordered:
        yield ""
        yield Line("Mind:")
    for one in ordered[:_MOST_CAUTIONS]:
        yield Line(one.message, 2, "!" if one.bad else "-", "bad" if one.bad else "plain")
    if len(ordered) > _MOST_CAUTIONS:
        yield Line(f"and {len(ordered) - _MOST_CAUTIONS} more (--json lists all)", 2, "-")


def _parts(parts: Sequence[PartStress], overload: float | None) -> Iterator[Said]:
    carrying = [part for part in parts if part.watts is not None]
    if not carrying:
        return
    yield ""
    yield Line("At full scale the parts take:")
    columns = {
        "part": [part.part for part in carrying],
        "worst in": [part.reading or "" for part in carrying],
        "watts": [with_unit(part.watts, "W", 3) for part in carrying],
        f"at {overload or 1:g}×": [_stated(part.overload_watts, "W") for part in carrying],
        "rating": [_stated(part.rating_watts, "W") for part in carrying],
        "volts": [with_unit(part.volts, "V", 3) for part in carrying],
        "stands": [_stated(part.working_volts, "V") for part in carrying],
        "current": [with_unit(part.amps, "A", 3) for part in carrying],
    }
    yield from filled(columns, words=(0, 1))


def _stated(value: float | None, unit: str) -> str:
    return "" if value is None else with_unit(value, unit, 3)


def _bench(tests: Sequence[BenchTest]) -> Iterator[Said]:
    for test in tests:
        yield ""
        if not test.rows:
            yield Line(f"Bench test, {test.reading}: leg by leg")
        else:
            series = f" through {in_ohms(test.series_ohms)}" if test.series_ohms else ""
            plus, minus = test.places
            yield Line(f"Bench test, {test.reading}: feed {plus} (+) and {minus} (-){series}")
            yield from _steps(test)
        for note in test.notes:
            yield Line(note, 4, "-")


def _steps(test: BenchTest) -> Iterator[Said]:
    is_current = test.quantity == "current"
    columns = {
        "step": [f"{row.percent:.3g} %" for row in test.rows],
        "supply, about": [with_unit(row.knob_volts, "V") for row in test.rows],
        "true current" if is_current else "true volts": [
            with_unit(row.true_value, "A" if is_current else "V") for row in test.rows
        ],
        "pointer": [_pointer(row.deflection) for row in test.rows],
        "in series R": [
            with_unit(row.series_watts, "W", 3) if test.series_ohms else "" for row in test.rows
        ],
        "": [row.mark or "" for row in test.rows],
    }
    yield from filled(columns, words=(0, 5 if test.series_ohms else 4))


def _mishaps(title: str, mishaps: Sequence[Mishap]) -> Iterator[Said]:
    if not mishaps:
        return
    telling = [m for m in mishaps if m.bad or m.as_original or m.rises]
    yield ""
    yield Line(title)
    for mishap in telling[:_MOST_MISHAPS]:
        yield Line(mishap.message, 2, "-")
    if not telling:
        yield Line(
            "nothing that is not so at rest: no overload, no rule broken, no point floats up",
            2,
            "-",
        )
    elif len(telling) > _MOST_MISHAPS:
        left = len(telling) - _MOST_MISHAPS
        yield Line(f"and {left} more of the kind, none worse (--json lists all)", 2, "-")
