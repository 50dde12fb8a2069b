"""``rewire values``: what the parts must be, how well it reads, what they stand."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from functools import partial
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from rewire.bench.wire_plan import renumbered
from rewire.cli.answers import (
    Answerer,
    Judged,
    SpecAnswers,
    answers_of,
    is_broken,
    said_aside,
    wirings_judged,
    write_json,
    write_text,
)
from rewire.cli.options import (
    all_of,
    file_option,
    flag_option,
    json_option,
    named,
    number_option,
    specs_argument,
)
from rewire.cli.terminal import complain_of
from rewire.cli.trouble import BAD_ANSWER, BAD_INPUT, LIMIT
from rewire.reading.drawer import read_drawer
from rewire.records.spec import Spec
from rewire.report.section import ReportSection
from rewire.report.values import MORE, found_section, sections, wound_section
from rewire.report.values_in_full import full_sections, result_as_json
from rewire.values.answers import WiringValues
from rewire.values.drawer import stocks_of
from rewire.values.options import option_rows
from rewire.values.tolerance import Draw
from rewire.values.wiring_values import Wishes, values_of
from rewire.words.wire import METALS

if TYPE_CHECKING:
    Told = tuple[WiringValues, bool]
    """Of one wiring, and whether it does not keep what the original does."""

_STATUS = {"good": 0, "bad": BAD_ANSWER, "unknown": LIMIT}
USUAL_METAL = "manganin"
wire_options = all_of(
    number_option(
        "--wire", "AWG", (-3, 60), "Say how much wire of this gauge winds each resistor."
    ),
    click.option(
        "--metal",
        type=click.Choice(list(METALS)),
        default=USUAL_METAL,
        show_default=True,
        help="Say the metal of that wire.",
    ),
)


@dataclass(frozen=True, slots=True)
class _Asked:
    """What ``rewire values`` was asked."""

    specs: Sequence[str]
    as_json: bool
    wirings: Sequence[str]
    drawer: Path | None
    wire: int | None
    metal: str
    overload: float | None
    seed: int
    full: bool


@click.command("values")
@specs_argument
@json_option
@named(
    "--wiring",
    "wirings",
    "Work out this wiring alone, original too; may be given again. "
    "[default: every one but original]",
)
@file_option(
    "--drawer", "FILE", "Choose resistors from the parts in a drawer file, up to four for each."
)
@wire_options
@number_option(
    "--overload",
    "TIMES",
    (1.0, 1e6),
    "Also work out each part's watts at so many times full scale.",
)
@number_option(
    "--seed", "N", (0,), "Start the random builds of 'after setting' from this number.", 1
)
@flag_option(
    "--full",
    "Also print what makes each error, the load of every part, bench tests and all faults.",
)
@click.pass_context
def values_command(ctx: click.Context, /, **given: Any) -> None:
    """What must shunts, multipliers and pots be, how well does it read, what do parts stand?

    \b
    pointer        where it stands when the true value is full scale
    worst case     every value at the bad end of its tolerance, with the meter's accuracy
    after setting  99 % of builds, once the pots are set in each
    in circuit     ohms that the set sees; was: in the original

    Every point of known volts is a source too: what goes over its rating on it is told,
    whatever is read, in every position.

    \b
    Exit status, the worst of all specs (2 over 3 over 1 over 0):
      0  in every plan each reading is right and no rating is exceeded
      1  a reading is off by more than it accepts, nothing fits, a rating is passed, or
         the meter is overloaded or a rule broken while switching
      2  a spec cannot be read, or leaves a reading open
      3  a limit was reached, or a reading hangs on what is not known
    """
    asked = _Asked(**given)
    wishes = Wishes(stocks(asked.drawer), overload=asked.overload, draw=Draw(seed=asked.seed))
    work = partial(_worked, wishes, asked.wirings)
    found = (answers_of(file, work) for file in asked.specs)
    outcomes = said_aside("calculating", found, len(asked.specs))
    results = [result for outcome in outcomes for result, _ in outcome.answers.values()]
    for refusal in dict.fromkeys(text for result in results for text in result.refusals):
        complain_of(refusal)
    if asked.as_json:
        ctx.exit(write_json("values", outcomes, lambda told: result_as_json(told[0])))
    ctx.exit(write_text(outcomes, lambda outcome: _report(outcome, asked)))


def _report(outcome: SpecAnswers[Told], asked: _Asked) -> Iterator[ReportSection]:
    """The plans, or the wirings asked for; of the others the verdict."""
    whole = full_sections if asked.full else sections
    for name, (result, broken) in outcome.answers.items():
        role = outcome.judged.roles[name]
        if name in outcome.judged.counting or asked.full:
            yield from whole(result, broken, role, wound(result, asked.wire, asked.metal))
        else:
            yield found_section(result, broken, role)
    if outcome.answers and not asked.full:
        yield MORE


def stocks(drawer: Path | None) -> Any:
    """The resistors of a drawer file, for choosing from."""
    there = read_drawer(drawer).resistors if drawer is not None else ()
    return stocks_of((one.part, one.quantity) for one in there)


def _worked(wishes: Wishes, wirings: Sequence[str], spec: Spec) -> tuple[Judged, Answerer[Told]]:
    spec = renumbered(spec)

    def answer(name: str) -> tuple[Told, int]:
        (result,) = values_of(spec, [name], wishes)
        result = replace(result, options=option_rows(spec, spec.wirings[name]))
        status = LIMIT if result.limited else _STATUS[result.answer]
        return (result, is_broken(spec, name)), BAD_INPUT if result.refusals else status

    return wirings_judged(spec, wirings), answer


def wound(result: WiringValues, wire: int | None, metal: str) -> list[ReportSection]:
    """How much wire winds each resistor, where a gauge is given."""
    return [] if wire is None else [wound_section(result.fits, wire, metal)]
