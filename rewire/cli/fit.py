"""``rewire fit``: land a function on the switch at hand, or learn why it cannot be done."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path
from typing import TYPE_CHECKING, cast

import click

from rewire.cli.between import Between
from rewire.cli.commands import HELP
from rewire.cli.outcome import say_notices
from rewire.cli.terminal import complain_of, with_progress, write_out
from rewire.cli.trouble import LIMIT, Complaint, Refused

if TYPE_CHECKING:
    from rewire.fit.answer import FitAnswer, FitOptions
    from rewire.fit.offers import Offer, Order
    from rewire.fit.task import SwitchTask
    from rewire.records.spec import Spec, Switch

NO_FIT = 1
_EACH = 2.0
"""Seconds for each switch of a drawer, where nothing else is said."""
_WAIVED = {"gap": "gap", "bridge": "bridge", "interrupt": "interrupted", "stray": "stray"}


@click.command(name="fit", short_help=HELP["fit"])
@click.argument("spec_file", metavar="SPEC", type=click.Path())
@click.option(
    "--switch",
    "switches",
    metavar="FORM|FILE",
    multiple=True,
    help="A form (3P4T), or a buzz-out file of a switch; may be given again.",
)
@click.option(
    "--drawer", metavar="FILE", type=click.Path(path_type=Path), help="All switches in a drawer."
)
@click.option("--replace", metavar="PART", help="The switch to replace. [default: the only one]")
@click.option(
    "--timing",
    type=click.Choice(["non-shorting", "shorting", "unknown"]),
    help="Timing of a FORM. [default: not known; the report says what it must be]",
)
@click.option(
    "--order",
    type=click.Choice(["in-order", "reversed", "any"]),
    default="in-order",
    show_default=True,
    help="In which the knob may serve the positions; its legend changes with it.",
)
@click.option(
    "--waive",
    "waived",
    type=click.Choice(list(_WAIVED)),
    multiple=True,
    help="What may happen while switching though it did not in the original.",
)
@click.option(
    "--count",
    type=click.IntRange(1, 100),
    default=1,
    metavar="N",
    help="So many different landings, cheapest first.",
)
@click.option(
    "--time-limit",
    type=Between(min=0.0),
    metavar="SECONDS",
    help="For each switch. [default: none; 2 for those of a drawer]",
)
@click.option("--write", "name", metavar="NAME", help="Add the landing to SPEC as a new wiring.")
@click.option("--json", "as_json", is_flag=True, help="Machine output instead of the report.")
@click.pass_context
def command(
    ctx: click.Context,
    spec_file: str,
    switches: Sequence[str],
    drawer: Path | None,
    replace: str | None,
    timing: str | None,
    order: str,
    waived: Sequence[str],
    count: int,
    time_limit: float | None,
    name: str | None,
    as_json: bool,
) -> None:
    """Land the function of a switch on another one, or learn why it cannot be done.

    The old switch is taken out of the original wiring, with its jumpers; what is left of
    each net that it had a lug on lands on a lug of the new switch, so that the same places
    are tied in every position, and nothing lets go or meets on the way that did not. Fewest
    connections first, then fewest jumpers, then poles in order. When it says no, there is
    no landing.

    \b
    Exit status:
      0  there is a landing, on one of the switches at least
      1  there is none
      2  the input is bad
      3  it depends on a timing that is not known, or the time ran out first
    """
    from rewire.cli.fit_writing import check_new_name, write_best
    from rewire.fit.answer import FitOptions
    from rewire.fit.task import task_of
    from rewire.reading import read_spec

    spec = read_spec(spec_file)
    say_notices(spec.notices)
    if drawer is not None and time_limit is None:
        time_limit = _EACH
    wish = FitOptions(_order(order), time_limit, count)
    old = _old_switch(spec, replace)
    _refuse_bound(spec, old)
    offers = _offers(switches, drawer, timing)
    task = task_of(spec, old, frozenset(_WAIVED[word] for word in waived))
    if name is not None:
        check_new_name(spec, name)
    answers = _answers(task, offers, wish)
    written = write_best(answers, name) if name is not None else False
    if as_json:
        from rewire.cli.as_json import dumped
        from rewire.cli.fit_json import fitted

        write_out(dumped(fitted(spec_file, answers)))
    else:
        from rewire.cli.fit_report import report
        from rewire.cli.values import write_said

        write_said(report(answers))
    if written:
        complain_of(f"{spec_file}: wiring {name} added, and checked")
    ctx.exit(_status(answers))


def _order(word: str) -> Order:
    return cast("Order", word)


def _answers(task: SwitchTask, offers: Sequence[Offer], wish: FitOptions) -> list[FitAnswer]:
    """All answers, best first; where none fits, the first says what would be lost."""
    from rewire.fit.answer import explained, fit_all, ranked, with_others

    found = with_progress("fitting", fit_all(task, offers, wish), len(offers))
    first, *others = ranked(list(found))
    return [with_others(explained(first, wish), wish), *others]


def _status(answers: Sequence[FitAnswer]) -> int:
    if answers[0].feasible:
        return 0 if answers[0].proven and answers[0].settled else LIMIT
    return NO_FIT if all(answer.proven for answer in answers) else LIMIT


def _old_switch(spec: Spec, name: str | None) -> Switch:
    """The switch to be replaced.

    Raises:
        Refused: it is not named and not the only one, or there is none of that name.
    """
    from rewire.records.spec import Switch
    from rewire.words.wording import known_here, listed, nearest, shown

    own = {n: p for n, p in spec.original.parts.items() if isinstance(p, Switch)}
    stays = [n for n, p in spec.parts.items() if isinstance(p, Switch)]
    if name is None and len(own) == 1:
        return next(iter(own.values()))
    if name in own:
        return own[name]
    if name in stays:
        message = f"{shown(name)} is among the parts that stay in every wiring"
        hint = "move it from 'parts' to 'wirings: original: parts', and to the other wirings"
        raise Refused(Complaint(message, spec.file, hint=hint))
    if not own:
        hint = "a switch to replace stands in 'wirings: original: parts'"
        raise Refused(Complaint("the original has no switch of its own", spec.file, hint=hint))
    if name is None:
        message = f"the original has {len(own)} switches"
        raise Refused(Complaint(message, spec.file, hint=f"write --replace with {listed(own)}"))
    close = nearest(name, own)
    hint = f"nearest is {shown(close)}" if close else known_here(own)
    raise Refused(Complaint(f"no switch is called {shown(name)}", spec.file, hint=hint))


def _refuse_bound(spec: Spec, old: Switch) -> None:
    """See that nothing outside the wirings hangs on a lug of the switch.

    Raises:
        Refused: something does; all of it at once.
    """
    gone = {old.terminal(lug) for lug in old.terminals}
    bound = [
        (part.place, f"{part.name} stays in every wiring and", gone & {*(part.between or ())})
        for part in spec.parts.values()
    ]
    bound += [
        (rule.place, f"rule {number}", gone & {*rule.places})
        for number, rule in enumerate(spec.rules, 1)
    ]
    bound += [
        (reading.place, f"reading {reading.name}", gone & {*reading.places})
        for reading in spec.original.readings.values()
    ]
    complaints = [
        Complaint(
            f"{what} names {min(lugs)}, which goes with {old.name}",
            place.file,
            place.line,
            place.column,
            "name the point or the part that the lug is wired to",
        )
        for place, what, lugs in bound
        if lugs
    ]
    if complaints:
        raise Refused(*complaints)


def _offers(switches: Sequence[str], drawer: Path | None, timing: str | None) -> list[Offer]:
    """What is on hand.

    Raises:
        Refused: nothing is.
    """
    from rewire.fit.offers import offers_of_drawer
    from rewire.reading.drawer import read_drawer

    found = [_offer(text, timing) for text in switches]
    if drawer is not None:
        in_drawer = list(offers_of_drawer(read_drawer(drawer)))
        if not in_drawer:
            hint = "list them under 'switches'"
            raise Refused(Complaint("no switch lies in this drawer", str(drawer), hint=hint))
        found += in_drawer
    if not found:
        hint = "write --switch 4P3T, --switch FILE of a buzz-out, or --drawer FILE"
        raise Refused(Complaint("no switch to fit is named", hint=hint))
    return found


def _offer(text: str, timing: str | None) -> Offer:
    from rewire.fit.offers import offer_of_buzzout, offer_of_form
    from rewire.reading.buzzout import read_buzzout
    from rewire.records.switches import read_form
    from rewire.words.wording import shown

    if read_form(text) is not None:
        return offer_of_form(text, timing)
    if Path(text).is_file():
        return offer_of_buzzout(read_buzzout(text))
    if read_form(text.upper()) is not None:
        hint = f"write {text.upper()}"
    else:
        hint = "write a form such as DPDT, 3P4T or 2P6T, or the file of a buzz-out"
    raise Refused(Complaint(f"--switch: {shown(text)} is no form and no file", hint=hint))
