"""``rewire identify``: which switch is this, from a buzz-out; which meter, from measurements."""

from __future__ import annotations

import re
from collections.abc import Mapping

import click

from rewire.bench.identify import identify
from rewire.bench.movement import Impossible, Measured, Movement, by_shunt, by_two_series, by_volts
from rewire.cli.answers import write_documents
from rewire.cli.options import json_option, quantity_of, text_option
from rewire.cli.terminal import complain_of, write_out, write_sections
from rewire.cli.trouble import BAD_ANSWER, LIMIT
from rewire.reading.buzzout import read_buzzout
from rewire.records.keys import NAME
from rewire.report.identify import (
    how_to_measure,
    meter_as_json,
    meter_block,
    meter_section,
    switch_as_json,
    switch_section,
)
from rewire.report.machine import document
from rewire.words.quantity import PERCENT, SOME_AMPS, SOME_OHMS, SOME_VOLTS


@click.group("identify")
def identify_command() -> None:
    """From a buzz-out or from measurements: which switch is this, what meter is this?"""


@identify_command.command("switch")
@click.argument("file", metavar="BUZZOUT", type=click.Path(readable=False))
@text_option("--name", "TEXT", "Call the switch by this reference in the block.", "S1")
@text_option("--control", "TEXT", "Call its control by this name in the block.", "KNOB")
@json_option
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
    Exit status: 0 here it is, 1 readings contradict each other, 2 the file cannot be read,
    3 a reading is in doubt.
    """
    _check_name(name, "--name")
    _check_name(control, "--control")
    found = identify(read_buzzout(file), name, control)
    if as_json:
        told = {"what": "switch", "file": file, **switch_as_json(found)}
        write_documents([document("identify", **told)])
    else:
        write_sections([switch_section(found)])
        write_out(f"\n{found.block}")
    ctx.exit(BAD_ANSWER if found.clashes else LIMIT * bool(found.misread or found.half_way))


def _check_name(text: str, option: str) -> None:
    if not re.fullmatch(NAME, text):
        message = "a name begins with a letter and has letters, digits, _ and - only"
        raise click.BadParameter(message, param_hint=option)


@identify_command.command("meter")
@text_option("--series", "OHMS", "Resistance between source and meter, the source's own included.")
@text_option("--shunt", "OHMS", "Resistance across the meter in the second reading.")
@text_option("--then", "OHMS", "Resistance that took the place of --series in the second reading.")
@text_option("--source", "VOLTS", "Voltage of the source, measured under load.")
@text_option("--volts", "VOLTS", "Voltage across the meter, by a voltmeter of high resistance.")
@text_option("--amps", "AMPS", "Current through the meter.")
@text_option("--before", "PERCENT", "Where the pointer stood in the first reading.", "100 %")
@text_option("--after", "PERCENT", "Where it stood in the second reading.", "50 %")
@text_option("--resistors-off", "PERCENT", "How far the resistances given may be off.", "1 %")
@text_option("--volts-off", "PERCENT", "How far --volts, --source and --amps may be off.", "1 %")
@text_option(
    "--pointer-off",
    "PERCENT",
    "How far each reading of the pointer may be off, of full scale.",
    "1 %",
)
@json_option
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
    figures = _figures(written)
    if not figures:
        write_sections([how_to_measure()])
        return
    try:
        found = _movement(figures, ctx)
    except Impossible as error:
        complain_of(str(error))
        ctx.exit(BAD_ANSWER)
    if as_json:
        write_documents([document("identify", what="meter", **meter_as_json(found))])
        return
    source = figures["source"].value if "source" in figures else None
    write_sections([meter_section(found, source)])
    write_out(f"to paste:\n  {meter_block(found)}\n")


_MEASURED = {
    "series": (SOME_OHMS, "resistors"),
    "shunt": (SOME_OHMS, "resistors"),
    "then": (SOME_OHMS, "resistors"),
    "source": (SOME_VOLTS, "volts"),
    "volts": (SOME_VOLTS, "volts"),
    "amps": (SOME_AMPS, "volts"),
}
"""Option → what it measures, and the option that says how far it may be off."""


def _figures(written: Mapping[str, str | None]) -> dict[str, Measured]:
    """What was measured, each with its limits; nothing if only limits and defaults were given."""

    def share(key: str) -> float:
        return quantity_of(written[key] or "", PERCENT, f"--{key.replace('_', '-')}") / 100.0

    off = {key: share(f"{key}_off") for key in ("resistors", "volts", "pointer")}
    figures = {}
    for key, (measure, limit) in _MEASURED.items():
        said = written[key]
        if said is not None:
            value = quantity_of(said, measure, f"--{key}")
            figures[key] = Measured(value, value * off[limit])
    if not figures:
        return {}
    for key in ("before", "after"):
        value = share(key)
        if value <= off["pointer"]:
            raise click.BadParameter("the pointer must stand clear of zero", param_hint=f"--{key}")
        figures[key] = Measured(value, off["pointer"])
    return figures


def _movement(figures: Mapping[str, Measured], ctx: click.Context) -> Movement:
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
