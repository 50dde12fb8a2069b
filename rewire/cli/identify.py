"""``rewire identify``: which switch is this, what meter is this."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from typing import TYPE_CHECKING, Any

import click

from rewire.cli.commands import HELP
from rewire.cli.sums import quantity_of
from rewire.cli.terminal import Line, write_out, write_report
from rewire.cli.trouble import worst_of

if TYPE_CHECKING:
    from rewire.bench.identify.meter import Estimate, Measured, Movement
    from rewire.bench.identify.misread import Misread
    from rewire.bench.identify.switch import Identified

BAD_ANSWER = 1


@click.group(name="identify", short_help=HELP["identify"])
def command() -> None:
    """From a buzz-out or from measurements: which switch is this, what meter is this?"""


@command.command(name="switch")
@click.argument("file", metavar="BUZZOUT", type=click.Path())
@click.option("--name", default="S1", show_default=True, help="Its reference in the block.")
@click.option("--control", default="KNOB", show_default=True, help="Its control in the block.")
@click.option("--json", "as_json", is_flag=True, help="Machine output instead of the report.")
@click.pass_context
def switch(ctx: click.Context, file: str, name: str, control: str, as_json: bool) -> None:
    """Poles, throws, commons and timing from a buzz-out, and a block to paste into a spec.

    A buzz-out is a file such as

    \b
      rewire_switch: 1
      lugs: [1, 2, 3, 4, 5, 6]
      detents:
        up: [[1, 2], [4, 5]]
        down: [[2, 3], [5, 6]]
      open: {up: [[2, 3]]}       # optional: pairs that were touched and read open
      between: [[]]              # optional: closed with the knob held between two detents

    \b
    Exit status: 0 here it is, 1 readings contradict each other, 2 the file cannot be read.
    """
    from rewire.bench.identify.switch import identify
    from rewire.reading.buzzout import read_buzzout

    _check_name(name, "--name")
    _check_name(control, "--control")
    found = identify(read_buzzout(file), name, control)
    if as_json:
        from rewire.cli.as_json import dumped

        write_out(dumped(_switch_json(file, found)))
    else:
        write_report(_switch_report(found))
        write_out(found.block)
    ctx.exit(worst_of([BAD_ANSWER if found.clashes else 0]))


def _check_name(text: str, option: str) -> None:
    import re

    from rewire.reading.fields import NAME

    if not re.fullmatch(NAME, text):
        message = "a name begins with a letter and has letters, digits, _ and - only"
        raise click.BadParameter(message, param_hint=option)


def _switch_report(found: Identified) -> Iterator[Line]:
    detents = found.buzzout.detents
    yield from (_misread(one) for one in found.misread)
    count = f"{len(detents)} detents"
    if found.poles:
        yield Line(f"{len(found.poles)} poles that move alike, {count}", label=f"{found.form}:",
                   mark="good")  # fmt: skip
    else:
        yield Line(f"no plain form; {len(found.sections)} sections, {count}", label="table:")
    for number, section in enumerate(found.sections):
        if found.poles:
            pole = found.poles[number]
            text = f"common {pole.common}, throws {', '.join(pole.throws)}"
            text += "; either lug may be the common" if pole.either_way else ""
        else:
            text = f"lugs {', '.join(section.lugs)}"
        yield Line(f"{text}; {_timing_said(found.timings[number])}", 2, f"{number + 1}.")
    if found.idle:
        yield Line(f"close on nothing: {', '.join(found.idle)}", 2, "-")
    for clash in found.clashes:
        yield Line(
            f"in {clash.detent} {clash.pair[0]} to {clash.pair[1]} read open, yet "
            f"{' to '.join(clash.way)} read closed: touch them again",
            2,
            "contradiction:",
            "bad",
        )
    yield from _untested(found)
    yield Line("")


def _misread(one: Misread) -> Line:
    pairs = [" to ".join(pair) for pair in (one.closed, one.missing) if pair is not None]
    read = [f"{pairs[0]} read closed"] if one.closed else []
    read += [f"{pairs[-1]} did not"] if one.missing else []
    return Line(
        f"in {one.detent} {' and '.join(read)}; touch {' and '.join(pairs)} again",
        label=f"{one.form}, but for one reading:",
        mark="meant",
    )


def _untested(found: Identified) -> Iterator[Line]:
    if found.buzzout.opened is None:
        yield Line("pairs that are not listed were taken as touched and open", 2, "-")
    elif not found.untested:
        yield Line("every pair in every detent was touched, or follows from others", 2, "-")
    for detent in dict.fromkeys(detent for detent, _ in found.untested):
        pairs = [f"{a} to {b}" for at, (a, b) in found.untested if at == detent]
        more = f" and {len(pairs) - 8} more" if len(pairs) > 8 else ""
        yield Line(f"{', '.join(pairs[:8])}{more}", 2, f"not touched in {detent}:", "meant")


def _timing_said(timing: str) -> str:
    if timing == "shorting":
        return "shorting: makes before it breaks"
    if timing == "non-shorting":
        return "non-shorting: breaks before it makes"
    if timing == "mixed":
        return "timing not the same at every step"
    return "timing unknown: hold the knob between two detents and touch the throws"


def _switch_json(file: str, found: Identified) -> dict[str, Any]:
    sections = [
        {
            "lugs": list(section.lugs),
            "timing": found.timings[number],
            **(_pole_json(found, number) if found.poles else {}),
        }
        for number, section in enumerate(found.sections)
    ]
    return {
        "rewire": 1, "command": "identify", "what": "switch", "file": file, "form": found.form,
        "detents": list(found.buzzout.detents), "sections": sections, "idle": list(found.idle),
        "contradictions": [
            {"detent": c.detent, "pair": list(c.pair), "way": list(c.way)} for c in found.clashes
        ],
        "misread": [
            {"form": m.form, "detent": m.detent, "closed": m.closed, "missing": m.missing}
            for m in found.misread
        ],
        "untested": [{"detent": at, "pair": list(pair)} for at, pair in found.untested],
        "block": found.block,
    }  # fmt: skip


def _pole_json(found: Identified, number: int) -> dict[str, Any]:
    pole = found.poles[number]
    return {
        "common": pole.common, "throws": list(pole.throws), "throw_at": list(pole.throw_at),
        "either_way": pole.either_way,
    }  # fmt: skip


@command.command(name="meter")
@click.option("--series", metavar="OHMS", help="Between source and meter, source included.")
@click.option("--shunt", metavar="OHMS", help="Across the meter in the second reading.")
@click.option("--then", metavar="OHMS", help="In the place of --series in the second reading.")
@click.option("--source", metavar="VOLTS", help="Of the source, measured under load.")
@click.option(
    "--volts", metavar="VOLTS", help="Across the meter, by a voltmeter of high resistance."
)
@click.option("--amps", metavar="AMPS", help="Through the meter.")
@click.option("--before", metavar="PERCENT", default="100 %", show_default=True,
              help="Where the pointer stood first.")  # fmt: skip
@click.option("--after", metavar="PERCENT", default="50 %", show_default=True,
              help="Where it stood in the second reading.")  # fmt: skip
@click.option("--resistors-off", metavar="PERCENT", default="1 %", show_default=True)
@click.option("--volts-off", metavar="PERCENT", default="1 %", show_default=True,
              help="Also of --source and --amps.")  # fmt: skip
@click.option("--pointer-off", metavar="PERCENT", default="1 %", show_default=True,
              help="Of full scale, in each reading.")  # fmt: skip
@click.option("--json", "as_json", is_flag=True, help="Machine output instead of the report.")
@click.pass_context
def meter(ctx: click.Context, /, as_json: bool, **written: str | None) -> None:
    """Resistance and full-scale current of a meter, with uncertainty.

    Without figures: how to measure, and how not to burn the movement.

    \b
      half deflection:    --series 10k --shunt 98 --source "1.5 V"
      other deflections:  --series 10k --shunt 47 --before "96 %" --after "31 %"
      two resistors:      --series 2k --then 6k --source "0.2 V"
      volts across it:    --volts "50 mV" --amps "1 mA" --before "98 %"

    \b
    Exit status: 0 here it is, 1 no movement gives these figures, 2 a figure cannot be read.
    """
    from rewire.bench.identify.meter import Impossible

    figures = _figures(written)
    if not figures:
        write_report(_how())
        return
    try:
        found = _movement(figures, ctx)
    except Impossible as error:
        from rewire.cli.terminal import complain_of

        complain_of(str(error))
        ctx.exit(BAD_ANSWER)
    source = figures["source"].value if "source" in figures else None
    if as_json:
        from rewire.cli.as_json import dumped

        write_out(dumped(_meter_json(found)))
    else:
        write_report(_meter_report(found, source))
        write_out(f"to paste:\n  {_block(found)}\n")


def _figures(written: Mapping[str, str | None]) -> dict[str, Measured]:
    """What was measured, each with its limits; nothing if only limits and defaults were given."""
    from rewire.bench.identify.meter import Measured
    from rewire.words.quantity import PERCENT, SOME_AMPS, SOME_OHMS, SOME_VOLTS

    off = {
        key: quantity_of(written[f"{key}_off"] or "", PERCENT, f"--{key}-off") / 100.0
        for key in ("resistors", "volts", "pointer")
    }
    kinds = {
        "series": (SOME_OHMS, "resistors"), "shunt": (SOME_OHMS, "resistors"),
        "then": (SOME_OHMS, "resistors"), "source": (SOME_VOLTS, "volts"),
        "volts": (SOME_VOLTS, "volts"), "amps": (SOME_AMPS, "volts"),
    }  # fmt: skip
    figures = {}
    for key, (measure, limit) in kinds.items():
        text = written[key]
        if text is not None:
            value = quantity_of(text, measure, f"--{key}")
            figures[key] = Measured(value, value * off[limit])
    if not figures:
        return {}
    for key in ("before", "after"):
        value = quantity_of(written[key] or "", PERCENT, f"--{key}") / 100.0
        if value <= off["pointer"]:
            raise click.BadParameter("the pointer must stand clear of zero", param_hint=f"--{key}")
        figures[key] = Measured(value, off["pointer"])
    return figures


def _movement(figures: Mapping[str, Measured], ctx: click.Context) -> Movement:
    from rewire.bench.identify.meter import by_shunt, by_two_series, by_volts

    given = set(figures) - {"before", "after", "source"}
    if given == {"series", "shunt"}:
        return by_shunt(figures)
    if given == {"series", "then"}:
        return by_two_series(figures)
    if given == {"volts", "amps"} or (given == {"volts", "series"} and "source" in figures):
        kept = {key: figure for key, figure in figures.items() if key != "after"}
        return by_volts(kept)
    raise click.UsageError(
        "Give --series and --shunt, or --series and --then, or --volts with --amps, or --volts "
        "with --source and --series.",
        ctx,
    )


def _meter_report(found: Movement, source: float | None) -> Iterator[Line]:
    from rewire.bench.identify.meter import COVERAGE, least_series

    yield Line(_said(found.ohms, "Ω"), label="resistance:", mark="good")
    if found.uncorrected_ohms is not None:
        off = 100.0 * (found.uncorrected_ohms / found.ohms.value - 1.0)
        yield Line(f"without the correction for the series resistance it would be {off:+.2g} %", 2)
    if found.amps is None:
        yield Line("not known without the volts of the source", label="full scale:", mark="meant")
    else:
        yield Line(_said(found.amps, "A"), label="full scale:", mark="good")
        volts = found.amps.value * found.ohms.value
        yield Line(
            f"{_unit(volts, 'V')} across it, {_unit(volts * found.amps.value, 'W')} in it", 2
        )
    main = max(found.ohms.shares, key=lambda name: found.ohms.shares[name], default=None)
    if main is not None:
        yield Line(f"most of the uncertainty of the resistance comes from --{main}; ± is "
                   f"{COVERAGE:g} standard deviations, limits taken as rectangular", 2)  # fmt: skip
    least = None if source is None else least_series(source, found)
    if least is not None and source is not None:
        yield Line(f"from {_unit(source, 'V')} keep {_unit(least, 'Ω')} or more in series", 2, "!",
                   "bad")  # fmt: skip


def _said(one: Estimate, unit: str) -> str:
    percent = 100.0 * one.uncertainty / abs(one.value) if one.value else 0.0
    worst = f"at worst ± {_unit(one.worst, unit, 2)}"
    return (
        f"{_unit(one.value, unit)} ± {_unit(one.uncertainty, unit, 2)} ({percent:.1f} %; {worst})"
    )


def _unit(value: float, unit: str, digits: int = 4) -> str:
    from rewire.words.quantity import in_ohms, with_unit

    return in_ohms(value, digits) if unit == "Ω" else with_unit(value, unit, digits)


def _block(found: Movement) -> str:
    ohms = found.ohms
    percent = 100.0 * ohms.uncertainty / ohms.value
    amps = "1 mA" if found.amps is None else f"{found.amps.value * 1e6:.4g} uA"
    todo = "   # full scale not measured" if found.amps is None else ""
    tolerance = f"resistance_tolerance: {percent:.2g} %"
    return f"M1: {{meter: {amps}, resistance: {ohms.value:.4g} ohm, {tolerance}}}{todo}"


def _meter_json(found: Movement) -> dict[str, Any]:
    amps = found.amps
    return {
        "rewire": 1, "command": "identify", "what": "meter", "method": found.method,
        "resistance_ohms": found.ohms.value,
        "resistance_uncertainty_ohms": found.ohms.uncertainty,
        "resistance_worst_ohms": found.ohms.worst,
        "uncorrected_ohms": found.uncorrected_ohms,
        "full_scale_amps": None if amps is None else amps.value,
        "full_scale_uncertainty_amps": None if amps is None else amps.uncertainty,
        "full_scale_worst_amps": None if amps is None else amps.worst,
        "shares": dict(found.ohms.shares),
        "block": _block(found),
    }  # fmt: skip


def _how() -> Iterator[Line]:
    yield Line("Measuring an unknown movement without burning it (common practice, no source):")
    yield from (Line(text, 2, f"{number}.") for number, text in enumerate(_STEPS, 1))
    yield Line("Never:", mark="bad")
    yield from (Line(text, 2, "-") for text in _NEVER)
    yield Line('Then, for example: rewire identify meter --series 10k --shunt 98 --source "1.5 V"')


_STEPS = (
    "Take the meter out of the set, or lift one lead; take the shunt or multiplier inside its "
    "case off, or it is measured along. Set the zero screw.",
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
