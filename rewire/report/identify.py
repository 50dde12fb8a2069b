"""Which switch it is, what meter it is, and how to measure one; for machines too."""

from __future__ import annotations

from collections.abc import Iterator

from rewire.bench.identify import Identified, Pole
from rewire.bench.movement import COVERAGE, Estimate, Movement, least_series
from rewire.report.machine import JSON, Keys, as_json
from rewire.report.section import ReportSection, Words, note, warning
from rewire.words.quantity import in_ohms, with_unit

_MOST = 8
"""Pairs not read that are told."""
_TIMING = {
    "shorting": "shorting: makes before it breaks",
    "non-shorting": "non-shorting: breaks before it makes",
    "mixed": "timing not the same at every step",
}
_NO_TIMING = "timing unknown: hold the knob half way between two detents and read the throws"


def switch_section(found: Identified) -> ReportSection:
    """Poles, throws, commons and timing, what to read again, and what was not read."""
    said = _misread(found) if found.misread else _form(found)
    return ReportSection("switch", "", (*said, *_doubts(found)))


def _misread(found: Identified) -> Iterator[Words]:
    """The plain form that it is but for one reading."""
    for one in found.misread:
        read = [f"{_pair(one.closed)} read closed"] if one.closed else []
        read += [f"{_pair(one.missing)} read open"] if one.missing else []
        again = " and ".join(_pair(pair) for pair in (one.closed, one.missing) if pair)
        said = f"{one.form} but for {again}: read again in {one.detent}, where {', '.join(read)}"
        yield Words(said, tone="meant")
    count = len(found.sections)
    yield note(f"if it reads the same again, it has {count} sections as below")


def _pair(pair: tuple[str, str]) -> str:
    return "–".join(pair)


def _form(found: Identified) -> Iterator[Words]:
    count = f"{len(found.buzzout.detents)} detents"
    if found.poles:
        said = f"{len(found.poles)} poles that move alike, {count}"
        yield Words(said, f"{found.form}:", tone="meant" if found.half_way else "good")
    else:
        said = f"no form such as 4P3T; {len(found.sections)} sections, {count}"
        yield Words(said, "table:")
    timings = [_TIMING.get(timing, _NO_TIMING) for timing in found.timings]
    alike = len(set(timings)) == 1
    for number, section in enumerate(found.sections):
        text = f"lugs {', '.join(section.lugs)}"
        if found.poles:
            pole = found.poles[number]
            text = f"common {pole.common}, throws {', '.join(pole.throws)}"
            text += "; either lug may be the common" if pole.either_way else ""
        own = "" if alike else f"; {timings[number]}"
        yield Words(f"{text}{own}", f"{number + 1}.", indent=2)
    if alike:
        yield note(timings[0])
    if found.idle:
        yield note(f"close on nothing: {', '.join(found.idle)}")


def _doubts(found: Identified) -> Iterator[Words]:
    for clash in found.clashes:
        said = (
            f"in {clash.detent} {clash.pair[0]} to {clash.pair[1]} read open, yet "
            f"{' to '.join(clash.way)} read closed: read them again"
        )
        yield Words(said, "contradiction:", tone="bad", indent=2)
    yield from (Words(one.said, tone="bad", indent=2) for one in found.half_way)
    if found.buzzout.opened is None:
        said = "pairs that are not listed were taken as read open"
        yield note(said)
    elif not found.untested:
        said = "every pair in every detent was read, or follows from others"
        yield note(said)
    for detent in dict.fromkeys(detent for detent, _ in found.untested):
        pairs = [f"{a} to {b}" for at, (a, b) in found.untested if at == detent]
        more = f" and {len(pairs) - _MOST} more" if len(pairs) > _MOST else ""
        said = f"{', '.join(pairs[:_MOST])}{more}"
        yield Words(said, f"not read in {detent}:", tone="meant", indent=2)


def switch_as_json(found: Identified) -> JSON:
    """What ``rewire identify switch`` found."""
    keys: Keys = {Pole: "common throws throw_at either_way"}
    poles = [as_json(pole, keys) for pole in found.poles] or [{}] * len(found.sections)
    rows = zip(found.sections, found.timings, poles, strict=True)
    told: JSON = as_json({
        "form": found.form,
        "detents": list(found.buzzout.detents),
        "sections": [{"lugs": one.lugs, "timing": timing, **pole} for one, timing, pole in rows],
        "idle": found.idle,
        "contradictions": found.clashes,
        "half_way": found.half_way,
        "misread": found.misread,
        "untested": [{"detent": at, "pair": pair} for at, pair in found.untested],
        "block": found.block,
    }, {})  # fmt: skip
    return told


def meter_section(found: Movement, source: float | None) -> ReportSection:
    """Resistance and full scale with what is uncertain; ``source`` is that of the test, volts."""
    return ReportSection(
        "meter", "", (*_resistance(found), *_full_scale(found), *_margins(found, source))
    )


def _resistance(found: Movement) -> Iterator[Words]:
    yield Words(_said(found.ohms, "Ω"), "resistance:", tone="good")
    if found.uncorrected_ohms is not None:
        off = 100.0 * (found.uncorrected_ohms / found.ohms.value - 1.0)
        said = f"without the correction for the series resistance it would be {off:+.2g} %"
        yield Words(said, indent=2)


def _full_scale(found: Movement) -> Iterator[Words]:
    if found.amps is None:
        yield Words("not known without the volts of the source", "full scale:", tone="meant")
        return
    yield Words(_said(found.amps, "A"), "full scale:", tone="good")
    volts = found.amps.value * found.ohms.value
    watts = volts * found.amps.value
    yield Words(f"{_unit(volts, 'V')} across it, {_unit(watts, 'W')} in it", indent=2)


def _margins(found: Movement, source: float | None) -> Iterator[Words]:
    main = max(found.ohms.shares, key=lambda name: found.ohms.shares[name], default=None)
    if main is not None:
        said = (
            f"most of the uncertainty of the resistance comes from --{main}; ± is "
            f"{COVERAGE:g} standard deviations, limits taken as rectangular"
        )
        yield Words(said, indent=2)
    least = None if source is None else least_series(source, found)
    if least is not None and source is not None:
        said = f"from {_unit(source, 'V')} keep {_unit(least, 'Ω')} or more in series"
        yield warning(said)


def _said(one: Estimate, unit: str) -> str:
    percent = 100.0 * one.uncertainty / abs(one.value) if one.value else 0.0
    worst = f"at worst ± {_unit(one.worst, unit, 2)}"
    return (
        f"{_unit(one.value, unit)} ± {_unit(one.uncertainty, unit, 2)} ({percent:.1f} %; {worst})"
    )


def _unit(value: float, unit: str, digits: int = 4) -> str:
    return in_ohms(value, digits) if unit == "Ω" else with_unit(value, unit, digits)


def meter_block(found: Movement) -> str:
    """The meter as a line of a spec."""
    ohms = found.ohms
    percent = 100.0 * ohms.uncertainty / ohms.value
    amps = "1 mA" if found.amps is None else f"{found.amps.value * 1e6:.4g} uA"
    todo = "   # full scale not measured" if found.amps is None else ""
    tolerance = f"resistance_tolerance: {percent:.2g} %"
    return f"M1: {{meter: {amps}, resistance: {ohms.value:.4g} ohm, {tolerance}}}{todo}"


def meter_as_json(found: Movement) -> JSON:
    """What ``rewire identify meter`` found."""
    amps = found.amps
    return {
        "method": found.method,
        "resistance_ohms": found.ohms.value,
        "resistance_uncertainty_ohms": found.ohms.uncertainty,
        "resistance_worst_ohms": found.ohms.worst,
        "uncorrected_ohms": found.uncorrected_ohms,
        "full_scale_amps": None if amps is None else amps.value,
        "full_scale_uncertainty_amps": None if amps is None else amps.uncertainty,
        "full_scale_worst_amps": None if amps is None else amps.worst,
        "shares": dict(found.ohms.shares),
        "block": meter_block(found),
    }


def how_to_measure() -> ReportSection:
    """How an unknown movement is measured."""
    head = "Measuring an unknown movement without burning it (common practice, no source)"
    steps = (Words(text, f"{number}.", indent=2) for number, text in enumerate(_STEPS, 1))
    never = map(note, _NEVER)
    example = 'Then, for example: rewire identify meter --series 10k --shunt 98 --source "1.5 V"'
    blocks = (*steps, Words("Never:", tone="bad"), *never, Words(example))
    return ReportSection("how", head, blocks)


_STEPS = (
    "Take the meter out of the set, or lift one lead; disconnect any shunt or multiplier inside "
    "its case first. Set the zero screw.",
    "A cell of 1.5 V, a variable resistance of 1 MΩ at its highest and a fixed resistor of 10 kΩ, "
    "all in series with the meter: it takes 1.5 µA at first, and never over 150 µA.",
    "Turn the variable resistance down until the pointer stands at full scale. If it goes the "
    "wrong way, exchange the leads. If it does not reach full scale, take a fixed resistor of a "
    "tenth, with the variable one back at its highest.",
    "Do not touch that any more. Lay a second variable resistance across the meter, at its "
    "highest first, and turn it down until the pointer stands at half scale.",
    "Take both out and measure them: --series with the fixed resistor and the source's own, and "
    "--shunt. Measure the volts of the source under load: --source.",
    "Take it all again with falling current; tap the glass lightly before each reading.",
)
_NEVER = (
    "an ohmmeter across the movement: its lowest range may drive a thousand times full scale",
    "the pot taken out, or its wiper dirty, while the cell is connected: open the circuit first",
    "the shunt taken off at half scale with the pot turned down further: the pointer slams",
)
