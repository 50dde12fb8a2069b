"""Values: what to fit and set, how well it reads, what is over or unknown; for machines too."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from math import isfinite, isinf

from rewire.records.spec import Role
from rewire.report.check import as_told
from rewire.report.options import movement
from rewire.report.section import (
    Block,
    ReportSection,
    Table,
    Tone,
    Words,
    note,
    row,
    table_of,
    warning,
)
from rewire.values.answers import (
    Caution,
    Combination,
    Fit,
    Mishap,
    OptionRow,
    PotAnswer,
    Readout,
    WiringValues,
)
from rewire.values.cases import shown_times
from rewire.words.quantity import in_full_scale, in_ohms, in_percent, with_unit
from rewire.words.wire import wire_length, wire_warning
from rewire.words.wording import listing

_FEW = 3
"""Mishaps in short that are told one by one."""
_MOST_NAMED = 4
FAILS = "If one part fails, worst first"
TURNS = "While the knob turns, worst first"
_SHORT = 0.05
"""Metres of wire that are cut to length well enough; common practice, no source."""
_LONG = 20.0
"""Metres of wire that nobody winds by hand; common practice, no source."""
_LABELS: dict[str, tuple[str, Tone]] = {
    "good": ("GOOD:", "good"),
    "bad": ("BAD:", "bad"),
    "broken": ("BROKEN:", "bad"),
    "unknown": ("NOT SETTLED:", "bad"),
}

MORE = ReportSection(
    "more", "", (Words("All loads, faults and bench tests: --full, or rewire sheet."),)
)
"""What closes the short report."""


def sections(
    result: WiringValues, broken: bool, role: Role | None, wound: Sequence[ReportSection] = ()
) -> Iterator[ReportSection]:
    """One wiring on one screen: verdict, what to fit and set, how well it reads, what can fail."""
    yield ReportSection("values", "", (*verdict_words(result, broken, role), *work_blocks(result)))
    yield from wound
    cautions = caution_words([one for one in result.warnings if one.kind != "bench"])
    told = (*reading_blocks(result.readings), *cautions, *_movements(result.options))
    yield ReportSection("readings", "", told)
    if result.overload is not None:
        yield load_section(result)
    moments = [moment.message for moment in result.bad_moments[:_FEW]]
    yield mishap_section(TURNS, moments)
    yield mishap_section(FAILS, [_gravest(fault) for fault in telling(result.faults)[:_FEW]])


def found_section(result: WiringValues, broken: bool, role: Role | None) -> ReportSection:
    """Of a wiring that comes out: what is wrong with it, and the warnings on it."""
    label, tone = _LABELS["broken" if broken else result.answer]
    wrong = ["do not power it up (rewire check)", *_wrong(result), *_unknown(result)]
    said = f"{result.wiring}: {'; '.join(wrong)}" if broken else _good_or_bad(result, role)
    return ReportSection("values", "", (Words(said, label, tone=tone), *_first_words(result)))


def sum_sections(
    result: WiringValues, wound: Sequence[ReportSection] = ()
) -> Iterator[ReportSection]:
    """A quick sum: what to fit, what it makes the meter read and has to stand, what to mind."""
    yield ReportSection("values", "", tuple(work_blocks(result)))
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
        "worst case": [_band((r.worst_low_percent, r.worst_high_percent)) for _, r, _ in found],
        "in circuit": [_in_path(reading.insertion_ohms) for _, reading, _ in found],
        "most watts": [with_unit(stress.watts, "W", 3) for _, _, stress in found],
        "most volts": [with_unit(stress.volts, "V", 3) for _, _, stress in found],
    }, words=("part", "range"))  # fmt: skip
    yield ReportSection("readings", "", (table,))
    yield from wound
    yield ReportSection("mind", "Mind", tuple(caution_words(result.warnings)))


def verdict_words(result: WiringValues, broken: bool, role: Role | None) -> Iterator[Words]:
    """The answer with its reasons and counts, then the warnings that must not be missed."""
    label, tone = _LABELS["broken" if broken else result.answer]
    said = _broken_said(result) if broken else f"{_good_or_bad(result, role)}."
    yield Words(f"{said} {_ratings(result)}", label, tone=tone)
    yield from _first_words(result)


def _first_words(result: WiringValues) -> Iterator[Words]:
    return (warning(w.message) for w in result.warnings if w.first)


def _named(result: WiringValues, role: Role | None) -> str:
    return f"{result.wiring}{as_told(role).rstrip(',')}"


def _good_or_bad(result: WiringValues, role: Role | None) -> str:
    reasons = [*_wrong(result), *_right(result), *_unknown(result)] or ["no reading is given"]
    return f"{_named(result, role)}: {'; '.join(reasons)}"


def _broken_said(result: WiringValues) -> str:
    """Of a wiring that does not keep what the original does: that first, then what else is bad."""
    said = (
        f"{result.wiring} does not keep what the original does: do not power it up, "
        "whatever its figures (rewire check)."
    )
    wrong = "; ".join([*_wrong(result), *_unknown(result)])
    return f"{said} Besides: {wrong}." if wrong else said


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
    off = [one for one in result.readings if one.off]
    far = [one for one in off if abs(one.error_percent or 0.0) > one.accept_percent]
    if far:
        stands = [f"{one.name}{'' if n else ' stands'} at {in_full_scale(one.deflection or 0.0)}"
                  for n, one in enumerate(far)]  # fmt: skip
        yield f"{listing(stands)} of full scale, not at 100 %"
    yield from (_off(one) for one in off if one not in far)
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
    """What is wrong with a reading that cannot be read, or is off at the end of its tolerances."""
    if one.deflection is None or one.error_percent is None:
        return f"{one.name} cannot be read: {one.note}"
    most = max(abs(end) for end in one.allowed())
    digits = next((n for n in (1, 2) if round(most, n) > one.accept_percent), 3)
    much = f"{most:.{digits}f} % of full scale off" if isfinite(most) else "off without bound"
    return f"{one.name} may be {much}, more than {one.accept_percent:g} %"


def work_blocks(result: WiringValues) -> Iterator[Block]:
    """What to fit, then what to set."""
    for fit in result.fits:
        yield from _fit(fit)
    for pot in result.pots:
        yield from _set(pot)


def _fit(fit: Fit) -> Iterator[Block]:
    """A resistor that was open: what to fit, and what it does."""
    if fit.exact_ohms is None:
        said = f"{fit.part} for {fit.reading}: {fit.why or 'nothing fits'}"
        yield Words(said, "fit", tone="bad", indent=2)
        return
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
    copper = note(wire_warning(metal))
    title = "Wound from wire, leads and joints on top"
    return ReportSection("wound", title, (*lines, copper) if lines else ())


def _windable(metres: float) -> str:
    if metres < _SHORT:
        return "; too short to trim: take a thicker wire"
    return "; too long to wind: take a thinner wire, or a resistor" if metres > _LONG else ""


def _set(pot: PotAnswer) -> Iterator[Words]:
    """Where to set a calibration pot."""
    if pot.setting_percent is None:
        said = f"{pot.part} for {pot.reading}: {pot.why or 'no setting does it'}"
        yield Words(said, "set", tone="bad", indent=2)
        return
    tone: Tone = "bad" if pot.reaches is False else "plain"
    yield Words(_setting(pot), "set", tone=tone, indent=2)
    yield from (Words(said, "-", tone=tone, indent=4) for said in (pot.why, pot.advice) if said)


def _setting(pot: PotAnswer) -> str:
    also = "".join(f" or {setting:.1f} %" for setting in pot.solutions[1:])
    said = f"{pot.part} in {pot.reading}: {pot.setting_percent:.1f} %{also} from ccw"
    if pot.lowest_percent is None or pot.highest_percent is None:
        return said
    return f"{said}; {_span(pot.lowest_percent, pot.highest_percent)} may be needed"


def _span(low: float, high: float) -> str:
    digits = 0 if high - low >= 5.0 else 2
    shown = [f"{x:.{digits}f}" if abs(x) < 1000 else "no setting" for x in (low, high)]
    return f"{shown[0]} to {shown[1]} %"


def reading_blocks(readings: Sequence[Readout]) -> Iterator[Block]:
    """A row for each reading, and a line under it where it is off or not known."""
    pairs = [(_in_path(r.insertion_ohms), _in_path(r.original_insertion_ohms)) for r in readings]
    is_as_before = all(now == before for now, before in pairs)
    yield table_of({
        "reading": [one.name for one in readings],
        "pointer": [pointer_said(one.deflection) for one in readings],
        "error": [
            "" if one.deflection is None else in_percent(one.error_percent) for one in readings
        ],
        "worst case": [_band((r.worst_low_percent, r.worst_high_percent)) for r in readings],
        "after setting": [_band(one.trimmed_percent) for one in readings],
        "in circuit": [now for now, _ in pairs],
        "was": ["" if is_as_before else before for _, before in pairs],
    }, words=("reading",))  # fmt: skip
    yield from _factors(readings)
    for one in readings:
        if one.note:
            yield note(f"{one.name}: {one.note}")
        if one.unstated and not one.trimmed_percent:
            yield note(f"{one.name}: {one.not_known}")


def _factors(readings: Sequence[Readout]) -> Iterator[Words]:
    """The readings that are not what the dial prints, and how they are got from it."""
    for one in readings:
        dial = one.dial
        if dial is None or dial.factor in (None, 1.0):
            continue
        sight = "" if dial.at_sight else ", needs a sum"
        better = f"; {dial.better_said}" if dial.better else ""
        yield note(f"{one.name}: {dial.said}{sight}{better}")


def pointer_said(deflection: float | None) -> str:
    """Where the pointer stands, percent of full scale."""
    return "unknown" if deflection is None else f"{100.0 * deflection:.1f} %"


def _in_path(ohms: float | None) -> str:
    """What a drive sees, ohm; infinite where it finds no way."""
    return "no path" if ohms is not None and isinf(ohms) else in_ohms(ohms)


def _band(ends: tuple[float | None, float | None] | None) -> str:
    """Least and greatest error, percent of full scale; nothing where it is not known."""
    low, high = ends or (None, None)
    if low is None or high is None:
        return ""
    said = [f"{end:+.1f}" if isfinite(end) else "no bound" for end in (low, high)]
    return f"{said[0]}/{said[1]}{' %' if isfinite(high) else ''}"


def caution_words(cautions: Sequence[Caution]) -> Iterator[Words]:
    """What to mind, the bad first; without those that stand under the verdict."""
    for one in sorted((w for w in cautions if not w.first), key=lambda one: not one.bad):
        tone: Tone = "bad" if one.bad else "plain"
        yield Words(one.message, "!" if one.bad else "-", tone=tone, indent=2)


def _movements(rows: Sequence[OptionRow]) -> Iterator[Words]:
    """Which other movements would do, in a line."""
    others = [one for one in rows if one.whose != "plan"]
    will = "; ".join(movement(one) for one in others if one.works) or "none"
    not_so = "; ".join(movement(one) for one in others if not one.works)
    if others:
        said = f"other movements that would do: {will}{f'; not {not_so}' if not_so else ''}"
        yield note(f"{said} (--full)")


def load_section(result: WiringValues) -> ReportSection:
    """What each part takes, at the overload too where one was asked for."""
    carrying = [part for part in result.parts if part.watts is not None]
    table = table_of({
        "part": [part.part for part in carrying],
        "worst in": [part.reading or "" for part in carrying],
        "watts": [with_unit(part.watts, "W", 3) for part in carrying],
        f"at {result.overload or 1:g}×": [_stated(part.overload_watts, "W") for part in carrying],
        "rating": [_stated(part.rating_watts, "W") for part in carrying],
        "volts": [with_unit(part.volts, "V", 3) for part in carrying],
        "stands": [_stated(part.working_volts, "V") for part in carrying],
        "current": [with_unit(part.amps, "A", 3) for part in carrying],
    }, words=("part", "worst in"))  # fmt: skip
    return ReportSection("parts", "At full scale the parts take", (table,) if carrying else ())


def _stated(value: float | None, unit: str) -> str:
    return "" if value is None else with_unit(value, unit, 3)


def mishap_section(title: str, told: Sequence[str]) -> ReportSection:
    """Mishaps in words, one on each line."""
    return ReportSection("mishaps", title, tuple(map(note, told)))


def telling(mishaps: Sequence[Mishap]) -> list[Mishap]:
    """Those that matter: the meter, a part or a rule, or a point that rises."""
    return [one for one in mishaps if one.bad or one.as_original or one.rises]


def _gravest(one: Mishap) -> str:
    """What fails and the worst that comes of it: the meter, what becomes live, or what burns."""
    told = [f"{place} rises to {with_unit(volts, 'V', 3)}" for place, volts in one.rises[:2]]
    if one.overload and one.times_full_scale:
        times = shown_times(abs(one.times_full_scale))
        told.insert(0, f"meter at {times} times full scale in {one.reading}")
    strain = max(one.strains, key=lambda strain: strain.times, default=None)
    if strain is not None:
        told.append(f"{strain.part} at {shown_times(strain.times)} times its rating")
    return f"{one.what}: {', '.join(told)}" if told else one.message
