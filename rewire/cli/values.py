"""``rewire values``, and the quick sums without a spec: ``rewire shunt``, ``rewire multiplier``."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass, replace
from pathlib import Path
from typing import TYPE_CHECKING, Any, TypeVar

import click

from rewire.bench.wire_plan import renumbered
from rewire.cli import HELP, NumberRange, json_option, named, quantity_of, specs_argument
from rewire.cli.answers import (
    BAD_ANSWER,
    BAD_INPUT,
    LIMIT,
    Answerer,
    Judged,
    SpecAnswers,
    answers_of,
    complain_of,
    is_broken,
    said_aside,
    wirings_judged,
    worst_of,
    write_documents,
    write_json,
    write_sections,
    write_text,
)
from rewire.reading.drawer import read_drawer
from rewire.records.spec import Spec
from rewire.report.machine import document
from rewire.report.section import ReportSection
from rewire.report.values import MORE, found_section, sections, sum_sections, wound_section
from rewire.report.values_in_full import full_sections, result_as_json
from rewire.values.answers import WiringValues
from rewire.values.drawer import stocks_of
from rewire.values.options import option_rows
from rewire.values.quick_sums import (
    TELLING,
    BenchMeter,
    Choice,
    chained_multipliers,
    multipliers,
    shunts,
    tapped_shunt,
)
from rewire.values.solved import EXACT, SERIES
from rewire.values.tolerance import Draw
from rewire.values.wiring_values import FAR_PERCENT, Wishes, values_of
from rewire.words.quantity import (
    OHMS,
    PERCENT,
    SOME_AMPS,
    SOME_VOLTS,
    BadQuantity,
    Measure,
    read_either,
)
from rewire.words.wire import METALS
from rewire.words.wording import printable

if TYPE_CHECKING:
    Told = tuple[WiringValues, bool]
    """Of one wiring, and whether it does not keep what the original does."""

_STATUS = {"good": 0, "bad": BAD_ANSWER, "unknown": LIMIT}
_USUAL = "E24 or E96"
_USUAL_METAL = "manganin"
Command = TypeVar("Command", bound=Callable[..., Any])


def _options(*options: Callable[[Command], Command]) -> Callable[[Command], Command]:
    """Several options as one, in the order of the help."""

    def added(command: Command) -> Command:
        for option in reversed(options):
            command = option(command)
        return command

    return added


_wire_options = _options(
    click.option(
        "--wire",
        type=click.IntRange(-3, 60),
        metavar="AWG",
        help="Say how much wire of this gauge winds each resistor.",
    ),
    click.option(
        "--metal",
        type=click.Choice(list(METALS)),
        default=_USUAL_METAL,
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


@click.command(name="values", short_help=HELP["values"])
@specs_argument
@json_option
@named(
    "--wiring", "wirings",
    "Work out this wiring alone, original too; may be given again. [default: every one but "
    "original]",
)  # fmt: skip
@click.option(
    "--drawer", metavar="FILE", type=click.Path(path_type=Path),
    help="Choose resistors from the parts in a drawer file, up to four for each.",
)  # fmt: skip
@_wire_options
@click.option(
    "--overload", metavar="TIMES", type=NumberRange(min=1.0, max=1e6),
    help="Also work out each part's watts at so many times full scale.",
)  # fmt: skip
@click.option(
    "--seed",
    type=click.IntRange(min=0),
    default=1,
    show_default=True,
    help="Start the random builds of 'after setting' from this number.",
)
@click.option(
    "--full", is_flag=True,
    help="Also print what makes each error, the load of every part, bench tests and all faults.",
)  # fmt: skip
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
    wishes = Wishes(
        stocks=_stocks(asked.drawer), overload=asked.overload, draw=Draw(seed=asked.seed)
    )
    found = (_one(file, asked.wirings, wishes) for file in asked.specs)
    outcomes = said_aside("calculating", found, len(asked.specs))
    results = [result for outcome in outcomes for result, _ in outcome.answers.values()]
    for refusal in dict.fromkeys(text for result in results for text in result.refusals):
        complain_of(refusal)
    if asked.as_json:
        write_json("values", outcomes, lambda told: result_as_json(told[0]))
    else:
        write_text(outcomes, lambda outcome: _report(outcome, asked))
    ctx.exit(worst_of(outcome.status for outcome in outcomes))


def _report(outcome: SpecAnswers[Told], asked: _Asked) -> Iterator[ReportSection]:
    """The plans, or the wirings asked for; of the others the verdict."""
    whole = full_sections if asked.full else sections
    for name, (result, broken) in outcome.answers.items():
        role = outcome.role(name)
        if outcome.counts(name) or asked.full:
            yield from whole(result, broken, role, _wound(result, asked))
        else:
            yield found_section(result, broken, role)
    if outcome.answers and not asked.full:
        yield MORE


def _stocks(drawer: Path | None) -> Any:
    there = read_drawer(drawer).resistors if drawer is not None else ()
    return stocks_of((one.part, one.quantity) for one in there)


def _one(file: str, wirings: Sequence[str], wishes: Wishes) -> SpecAnswers[Told]:
    def work(spec: Spec) -> tuple[Judged, Answerer[Told]]:
        spec = renumbered(spec)

        def answer(name: str) -> tuple[Told, int]:
            (result,) = values_of(spec, [name], wishes)
            result = replace(result, options=option_rows(spec, spec.wirings[name]))
            status = LIMIT if result.limited else _STATUS[result.answer]
            return (result, is_broken(spec, name)), BAD_INPUT if result.refusals else status

        return wirings_judged(spec, wirings), answer

    return answers_of(file, work)


def _wound(result: WiringValues, asked: _Asked | _Sum) -> list[ReportSection]:
    return [] if asked.wire is None else [wound_section(result.fits, asked.wire, asked.metal)]


@dataclass(frozen=True, slots=True)
class _Sum:
    """What a quick sum was asked, as it was typed."""

    ranges: Sequence[str]
    meter: str
    resistance: str
    resistance_tolerance: str | None
    choose: str | None
    drawer: Path | None
    tolerance: str | None
    as_json: bool
    tapped: bool = False
    chained: bool = False
    wire: int | None = None
    metal: str = _USUAL_METAL

    def movement(self) -> BenchMeter:
        """The meter.

        Raises:
            click.UsageError: it is none.
        """
        ohms = quantity_of(self.resistance, OHMS, "--resistance")
        try:
            value, measure = read_either(self.meter, (SOME_AMPS, SOME_VOLTS))
        except BadQuantity as error:
            raise click.UsageError(f"--meter: {error.message}; {error.hint}") from None
        if ohms == 0.0:
            way_out = "to measure it: rewire identify meter"
            raise click.UsageError(f"--resistance: a meter has more than zero; {way_out}")
        amps, volts = (value, None) if measure is SOME_AMPS else (None, value)
        off = _percent_of(self.resistance_tolerance, "--resistance-tolerance")
        return BenchMeter(amps, volts, ohms, off)

    def choice(self) -> Choice:
        """How the resistors are to be had: of wire, any value can be."""
        usual = _USUAL if self.wire is None else "exact"
        off = _percent_of(self.tolerance, "--tolerance")
        return Choice("drawer" if self.drawer is not None else self.choose or usual, off)

    def full_scales(self, measure: Measure, option: str) -> list[float]:
        """Full scales, each another.

        Raises:
            click.UsageError: one of them is none, or stands there twice.
        """
        found: dict[float, str] = {}
        for text in self.ranges:
            value = quantity_of(text, measure, option)
            if value in found:
                raise click.UsageError(f"{option}: {printable(text)} is given twice")
            found[value] = text
        return list(found)


def _percent_of(text: str | None, option: str) -> float | None:
    return None if text is None else quantity_of(text, PERCENT, option)


_sum_options = _options(
    click.option(
        "--meter", required=True, metavar="AMOUNT",
        help="Say the meter's full scale: 1 mA, or 50 mV.",
    ),
    click.option(
        "--resistance", required=True, metavar="OHMS",
        help="Say the resistance of the meter's coil: 100 ohm.",
    ),
    click.option(
        "--resistance-tolerance", metavar="PERCENT",
        help="Say how far that resistance may be off, for the worst case."
    ),
    click.option(
        "--choose", type=click.Choice([EXACT, *SERIES]),
        help=f"Choose from this series of preferred values.  [default: {_USUAL}]",
    ),
    click.option(
        "--drawer", metavar="FILE", type=click.Path(path_type=Path),
        help="Choose resistors from the parts in a drawer file.",
    ),
    click.option(
        "--tolerance", metavar="PERCENT",
        help="Say how far the resistors may be off, for the worst case.",
    ),
    click.option("--json", "as_json", is_flag=True, help="Print JSON instead of the report."),
)  # fmt: skip


@click.command(name="shunt", short_help=HELP["shunt"])
@click.argument("ranges", metavar="AMPS...", nargs=-1, required=True)
@_sum_options
@click.option("--tapped", is_flag=True, help="Make one shunt with a tap for each range.")
@_wire_options
@click.pass_context
def shunt_command(ctx: click.Context, /, **given: Any) -> None:
    """The shunt that makes a meter read AMPS at full scale; one for each range, or one with taps.

    \b
      rewire shunt --meter "1 mA" --resistance "100 ohm" "100 mA"
      rewire shunt --meter "1 mA" --resistance 50 --tapped "1 A" "5 A" "10 A"

    \b
    Exit status: 0 good, 1 nothing comes within 5 %, 2 the input is bad, 3 more than ten taps.
    """
    asked = _Sum(**given)
    solve = tapped_shunt if asked.tapped else shunts
    amps = asked.full_scales(SOME_AMPS, "AMPS")
    ctx.exit(_show("shunt", solve(asked.movement(), amps, asked.choice()), asked))


@click.command(name="multiplier", short_help=HELP["multiplier"])
@click.argument("ranges", metavar="VOLTS...", nargs=-1, required=True)
@_sum_options
@click.option(
    "--chained", is_flag=True, help="Let each range add a resistor to those of the ranges below."
)
@click.pass_context
def multiplier_command(ctx: click.Context, /, **given: Any) -> None:
    """The series resistor that makes a meter read VOLTS at full scale; one for each range.

    \b
      rewire multiplier --meter "50 uA" --resistance "2 kohm" "10 V" "250 V"

    \b
    Exit status: 0 good, 1 nothing comes within 5 %, 2 the input is bad.
    """
    asked = _Sum(**given)
    solve = chained_multipliers if asked.chained else multipliers
    volts = asked.full_scales(SOME_VOLTS, "VOLTS")
    ctx.exit(_show("multiplier", solve(asked.movement(), volts, asked.choice()), asked))


def _show(command: str, spec: Spec, asked: _Sum) -> int:
    """The answer of a quick sum, and its exit status."""
    (found,) = values_of(spec, ["original"], Wishes(stocks=_stocks(asked.drawer)))
    result = replace(found, warnings=tuple(w for w in found.warnings if w.kind in TELLING))
    if asked.as_json:
        write_documents([document(command, spec="", results=[result_as_json(result)])])
    else:
        write_sections(sum_sections(result, _wound(result, asked)))
    errors = [fit.error_percent for fit in result.fits]
    near = all(error is not None and abs(error) <= FAR_PERCENT for error in errors)
    return 0 if near else BAD_ANSWER
