"""Values in plain text, for somebody at the bench: one table per wiring, then what follows."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from rewire.cli.table import table
from rewire.cli.terminal import Line
from rewire.values.model import BenchTest, Fit, Mishap, PartStress, PotAnswer, Readout, WiringValues
from rewire.values.units import in_ohms, in_percent, with_unit

_MOST_MISHAPS = 12
_MOST_CAUTIONS = 12
_TOLD = 1.05

Said = Line | str
"""A line to be fitted to the terminal, or one of a table that stays as it is."""


def report(results: Sequence[WiringValues]) -> Iterator[Said]:
    """All wirings, one after the other."""
    for number, result in enumerate(results):
        if number:
            yield ""
        yield from wiring_report(result)


def wiring_report(result: WiringValues) -> Iterator[Said]:
    """One wiring: verdict, readings, parts to fit, cautions, stress, bench test, mishaps."""
    yield _verdict(result)
    yield from _readings(result.readings)
    yield from fit_lines(result.fits)
    yield from _pots(result.pots)
    yield from _cautions(result)
    yield from _parts(result.parts)
    yield from _bench(result.bench)
    yield from _mishaps("While switching, worst first:", result.switching)
    yield from _mishaps("If one thing fails, worst first:", result.faults)


def _verdict(result: WiringValues) -> Line:
    if not result.bad:
        said = f"{result.wiring} reads right within its tolerances, and no rating is passed"
        return Line(said, 0, "GOOD:", "good")
    return Line(f"{result.wiring}: {'; '.join(_faults_of(result))}", 0, "BAD:", "bad")


def _faults_of(result: WiringValues) -> Iterator[str]:
    off = [r.name for r in result.readings if r.off and not r.refused and r.deflection is not None]
    blank = [r.name for r in result.readings if r.off and (r.refused or r.deflection is None)]
    if off:
        yield f"{_and(off)} off by more than the tolerances allow"
    if blank:
        yield f"no sum for {_and(blank)}"
    unfit = [fit.part for fit in result.fits if fit.exact_ohms is None]
    unfit += [pot.part for pot in result.pots if pot.setting_percent is None]
    if unfit:
        yield f"nothing fits for {_and(unfit)}"
    short = [p.part for p in result.pots if p.setting_percent is not None and not p.reaches]
    if short:
        yield f"{_and(short)} cannot always reach its setting"
    passed = [part.part for part in result.parts if part.ok is False]
    passed += [w.part or w.kind for w in result.warnings if w.bad and w.part not in passed]
    if passed:
        yield f"a rating is passed at {_and(list(dict.fromkeys(passed)))}"


def _and(names: Sequence[str]) -> str:
    return names[0] if len(names) == 1 else f"{', '.join(names[:-1])} and {names[-1]}"


def _readings(readings: Sequence[Readout]) -> Iterator[Said]:
    head = ("reading", "pointer", "error", "worst case", "after setting", "in circuit", "was")
    rows = [
        (
            one.name,
            "no sum" if one.deflection is None else f"{100.0 * one.deflection:.1f} %",
            "" if one.deflection is None else in_percent(one.error_percent),
            _band(one.worst_low_percent, one.worst_high_percent),
            _band(*_trimmed(one)),
            in_ohms(one.insertion_ohms),
            in_ohms(one.original_insertion_ohms),
        )
        for one in readings
    ]
    if all(not row[4] for row in rows):
        head = (*head[:4], *head[5:])  # type: ignore[assignment]
        rows = [(*row[:4], *row[5:]) for row in rows]  # type: ignore[misc]
    yield from table(head, rows)
    for one in readings:
        if one.note:
            yield Line(f"{one.name}: {one.note}", 2, "-")
        if one.off and one.deflection is not None and one.deflection > 0:
            gets, wants = (with_unit(x, "A", 3) for x in _amps(one))
            said = f"{one.name}: {one.meter} gets {gets} where it should get {wants}"
            yield Line(said, 2, "-", "bad")
    yield from _contributions(readings)


def _amps(one: Readout) -> tuple[float | None, float | None]:
    """What the meter gets, and what it should get."""
    if one.meter_amps is None or not one.deflection:
        return None, None
    return one.meter_amps, one.meter_amps / one.deflection


def _trimmed(one: Readout) -> tuple[float | None, float | None]:
    """After the pots are set anew, with the meter's own accuracy."""
    if one.trimmed_percent is None:
        return None, None
    own = one.accuracy_percent or 0.0
    return one.trimmed_percent[0] - own, one.trimmed_percent[1] + own


def _band(low: float | None, high: float | None) -> str:
    return "" if low is None or high is None else f"{low:+.1f}/{high:+.1f} %"


def _contributions(readings: Sequence[Readout]) -> Iterator[Said]:
    """Which values matter most, one line for each reading."""
    if any(s.size >= 0.05 for one in readings for s in one.shares):
        yield Line("What makes the error, ± percent of full scale:")
    for one in readings:
        telling = [s for s in one.shares if s.size >= 0.05][:4]
        if telling:
            own = f"meter's accuracy {one.accuracy_percent:g}, " if one.accuracy_percent else ""
            most = ", ".join(f"{s.value} {s.size:.1f}" for s in telling)
            warm = one.percent_per_10_kelvin
            heat = f"; 10 °C warmer: {warm:+.1f}" if warm and abs(warm) >= 0.05 else ""
            yield Line(f"{own}{most}{heat}", 4, f"{one.name}:")


def fit_lines(fits: Sequence[Fit]) -> Iterator[Said]:
    """Resistors that were open: exact, chosen, and what the choice does."""
    if fits:
        yield ""
        yield Line("Resistors to fit:")
    for fit in fits:
        if fit.exact_ohms is None:
            yield Line(fit.why or "nothing fits", 2, f"{fit.part} for {fit.reading}:", "bad")
            continue
        yield Line(_chosen(fit), 2, f"{fit.part} for {fit.reading}:")
        if fit.why:
            yield Line(fit.why, 4, "-")
        yield from _combinations(fit)


def _chosen(fit: Fit) -> str:
    exact = in_ohms(fit.exact_ohms, 5)
    if fit.choose in (None, "exact") and not fit.others:
        return f"exactly {exact}"
    way = f" ({fit.choose})" if fit.choose and not fit.others else ""
    off = "" if fit.error_percent is None else f": {fit.reading} {in_percent(fit.error_percent)}"
    return f"exactly {exact}; take {fit.chosen}{way}{off}"


def _combinations(fit: Fit) -> Iterator[Said]:
    if not fit.others:
        return
    rows = []
    for one in fit.others:
        worst = max(
            (p.watts or 0.0) / p.rating_watts if p.rating_watts else 0.0 for p in one.pieces
        )
        load = f"{100 * worst:.0f} %" if any(p.rating_watts for p in one.pieces) else "unknown"
        error = f"{one.error_percent:+.3g} %"
        rows.append((one.written, str(len(one.pieces)), in_ohms(one.ohms, 6), error, load))
    yield from table(("from the drawer", "pieces", "makes", "error", "of rating"), rows, 4)


def _pots(pots: Sequence[PotAnswer]) -> Iterator[Said]:
    if pots:
        yield ""
        yield Line("Pots to set (percent of travel from ccw):")
    for pot in pots:
        label = f"{pot.part} for {pot.reading}:"
        if pot.setting_percent is None:
            yield Line(pot.why or "no setting does it", 2, label, "bad")
            continue
        yield Line(_setting(pot), 2, label, "plain" if pot.reaches else "bad")
        yield Line(_stops(pot), 4, "-")
        if pot.why:
            yield Line(pot.why, 4, "-", "bad")
        if pot.advice:
            yield Line(pot.advice, 4, "-")


def _setting(pot: PotAnswer) -> str:
    others = [f"{s:.1f} %" for s in pot.solutions[1:]]
    also = f" (or {', '.join(others)})" if others else ""
    reach = "needed over the tolerances"
    return f"{pot.setting_percent:.1f} %{also}; {_span(pot)} {reach}" + (
        f"; 1 % of travel is {in_percent(pot.percent_per_percent)} of reading"
        if pot.percent_per_percent is not None
        else ""
    )


def _span(pot: PotAnswer) -> str:
    low, high = pot.lowest_percent, pot.highest_percent
    if low is None or high is None:
        return "unknown"
    shown = [f"{x:.0f}" if abs(x) < 1000 else "no setting" for x in (low, high)]
    return f"{shown[0]} to {shown[1]} %"


def _stops(pot: PotAnswer) -> str:
    cases = (("at ccw", pot.at_ccw), ("at cw", pot.at_cw), ("wiper open", pot.when_open))
    seen = ", ".join(f"{said} {_times(value)}" for said, value in cases)
    return f"meter, times full scale: {seen}"


def _times(value: float | None) -> str:
    if value is None:
        return "unknown"
    return f"{value:.0f}" if abs(value) >= 10 else f"{value:.2f}"


def _cautions(result: WiringValues) -> Iterator[Said]:
    ordered = sorted(result.warnings, key=lambda w: not w.bad)
    if ordered:
        yield ""
        yield Line("Mind:")
    for one in ordered[:_MOST_CAUTIONS]:
        yield Line(one.message, 2, "!" if one.bad else "-", "bad" if one.bad else "plain")
    if len(ordered) > _MOST_CAUTIONS:
        yield Line(f"and {len(ordered) - _MOST_CAUTIONS} more (--json lists all)", 2, "-")


def _parts(parts: Sequence[PartStress]) -> Iterator[Said]:
    carrying = [part for part in parts if part.watts is not None]
    if not carrying:
        return
    yield ""
    yield Line("At full scale the parts take:")
    overload = any(part.overload_watts is not None for part in carrying)
    head = ["part", "worst in", "watts", "rating", "volts", "stands", "current"]
    rows = []
    for part in carrying:
        row = [
            part.part,
            part.reading or "",
            with_unit(part.watts, "W", 3),
            "" if part.rating_watts is None else with_unit(part.rating_watts, "W", 3),
            with_unit(part.volts, "V", 3),
            "" if part.working_volts is None else with_unit(part.working_volts, "V", 3),
            with_unit(part.amps, "A", 3),
        ]
        rows.append([*row, with_unit(part.overload_watts, "W", 3)] if overload else row)
    yield from table([*head, "overload"] if overload else head, rows, left=2)


def _bench(tests: Sequence[BenchTest]) -> Iterator[Said]:
    for test in tests:
        unit = "A" if test.quantity == "current" else "V"
        series = in_ohms(test.series_ohms)
        yield ""
        yield Line(f"Bench test of {test.reading}, supply through {series} to its two places:")
        rows = [
            (
                f"{row.percent:.3g} %",
                with_unit(row.supply_volts, "V"),
                with_unit(row.true_value, unit),
                "no sum" if row.deflection is None else f"{100 * row.deflection:.1f} %",
                with_unit(row.series_watts, "W", 3),
                row.mark or ("" if row.ok else "beyond the gear at hand"),
            )
            for row in test.rows
        ]
        true = "current" if unit == "A" else "volts"
        head = ("step", "supply", true, "pointer", "series R", "")
        yield from _left_last(head, rows)
        for note in test.notes:
            yield Line(note, 4, "-")


def _left_last(head: Sequence[str], rows: Sequence[Sequence[str]]) -> Iterator[str]:
    """A table whose last column, words, starts at the left."""
    lines = table(head[:-1], [row[:-1] for row in rows])
    for line, words in zip(lines, ("", *(row[-1] for row in rows)), strict=True):
        yield f"{line}  {words}".rstrip()


def _mishaps(title: str, mishaps: Sequence[Mishap]) -> Iterator[Said]:
    if not mishaps:
        return
    telling = [m for m in mishaps if m.rules or m.rises or abs(m.times_full_scale or 0.0) > _TOLD]
    yield ""
    yield Line(title)
    for mishap in telling[:_MOST_MISHAPS]:
        yield Line(mishap.message, 2, "-")
    left = len(mishaps) - len(telling[:_MOST_MISHAPS])
    if not telling:
        yield Line("nothing over full scale, no rule broken, nothing rises", 2, "-")
    elif left:
        yield Line(f"and {left} more that do less (--json lists all)", 2, "-")
