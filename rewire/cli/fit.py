"""``rewire fit``: land a function on the switch at hand, or learn why it cannot be done."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from rewire.cli.answers import BAD_ANSWER, LIMIT, Complaint, Refused, say_notices
from rewire.cli.commands import HELP, Between, json_option
from rewire.cli.files import alone, write_whole
from rewire.cli.terminal import complain_of, with_progress, write_out, write_sections
from rewire.words.wording import known_here, listed, nearest, shown

if TYPE_CHECKING:
    from rewire.fit.answer import FitAnswer
    from rewire.fit.offers import Offer
    from rewire.fit.task import Order, SwitchTask
    from rewire.records.spec import Spec, Switch

_EACH = 2.0
"""Seconds for each switch of a drawer, where nothing else is said."""
_WAIVED = {"gap": "gap", "bridge": "bridge", "interrupt": "interrupted", "stray": "stray"}


@dataclass(frozen=True, slots=True)
class _Asked:
    """What ``rewire fit`` was asked."""

    spec_file: str
    switches: Sequence[str]
    drawer: Path | None
    replace: str | None
    timing: str | None
    order: Order
    waived: Sequence[str]
    count: int
    time_limit: float | None
    name: str | None
    as_json: bool

    @property
    def seconds(self) -> float | None:
        """What each switch may take."""
        return _EACH if self.drawer is not None and self.time_limit is None else self.time_limit


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
    help="Timing of the FORM. [default: unstated; the report says which timing is needed]",
)
@click.option(
    "--order",
    type=click.Choice(["in-order", "reversed", "any"]),
    default="in-order",
    show_default=True,
    help="Order in which the knob may pass the positions (the legend follows).",
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
    help="Show up to N landings, cheapest first.",
)
@click.option(
    "--time-limit",
    type=Between(min=0.0),
    metavar="SECONDS",
    help="For each switch. [default: none; 2 for those of a drawer]",
)
@click.option("--write", "name", metavar="NAME", help="Add the landing to SPEC as a new wiring.")
@json_option
@click.pass_context
def fit(ctx: click.Context, /, **given: Any) -> None:
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
    from rewire.fit.task import task_of
    from rewire.reading import read_spec
    from rewire.report.fit import result_as_json, sections
    from rewire.report.machine import dumped, headed

    asked = _Asked(**given)
    spec = read_spec(asked.spec_file)
    say_notices(spec.notices)
    old = _old_switch(spec, asked.replace)
    _refuse_bound(spec, old)
    offers = _offers(asked)
    task = task_of(spec, old, frozenset(_WAIVED[word] for word in asked.waived), asked.order)
    if asked.name is not None:
        _check_new_name(spec, asked.name)
    answers = _answers(task, offers, asked)
    written = asked.name is not None and _write_best(answers, asked.name)
    if asked.as_json:
        results = [result_as_json(answer) for answer in answers]
        write_out(dumped({**headed("fit", asked.spec_file), "results": results}))
    else:
        write_sections(sections(answers))
    if written:
        complain_of(f"{asked.spec_file}: wiring {asked.name} added, and checked")
    ctx.exit(_status(answers))


def _answers(task: SwitchTask, offers: Sequence[Offer], asked: _Asked) -> list[FitAnswer]:
    """All answers, best first; where none fits, the first says what would be lost."""
    from rewire.fit.answer import explained, fit_all, ranked, with_others

    found = with_progress("fitting", fit_all(task, offers, asked.seconds), len(offers))
    first, *others = ranked(list(found))
    told = explained(first, asked.seconds)
    return [with_others(told, asked.count, asked.seconds), *others]


def _status(answers: Sequence[FitAnswer]) -> int:
    if answers[0].feasible:
        return 0 if answers[0].proven and answers[0].settled else LIMIT
    return BAD_ANSWER if all(answer.proven for answer in answers) else LIMIT


def _old_switch(spec: Spec, name: str | None) -> Switch:
    """The switch to be replaced.

    Raises:
        Refused: it is not named and not the only one, or there is none of that name.
    """
    from rewire.records.spec import Switch

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


def _offers(asked: _Asked) -> list[Offer]:
    """What is on hand.

    Raises:
        Refused: nothing is.
    """
    from rewire.fit.offers import offers_of_drawer
    from rewire.reading.drawer import read_drawer

    found = [_offer(text, asked.timing) for text in asked.switches]
    if asked.drawer is not None:
        in_drawer = list(offers_of_drawer(read_drawer(asked.drawer)))
        if not in_drawer:
            hint = "list them under 'switches'"
            raise Refused(Complaint("no switch lies in this drawer", str(asked.drawer), hint=hint))
        found += in_drawer
    if not found:
        hint = "write --switch 4P3T, --switch FILE of a buzz-out, or --drawer FILE"
        raise Refused(Complaint("no switch to fit is named", hint=hint))
    return found


def _offer(text: str, timing: str | None) -> Offer:
    from rewire.fit.offers import offer_of_buzzout, offer_of_form
    from rewire.reading.buzzout import read_buzzout
    from rewire.records.switches import read_form

    if read_form(text) is not None:
        return offer_of_form(text, timing)
    if Path(text).is_file():
        return offer_of_buzzout(read_buzzout(text))
    if read_form(text.upper()) is not None:
        hint = f"write {text.upper()}"
    else:
        hint = "write a form such as DPDT, 3P4T or 2P6T, or the file of a buzz-out"
    raise Refused(Complaint(f"--switch: {shown(text)} is no form and no file", hint=hint))


def _check_new_name(spec: Spec, name: str) -> None:
    """See that a wiring of this name can be added.

    Raises:
        Refused: there is one, or the name will not do.
    """
    folded = {known.casefold(): known for known in spec.wirings}
    known = folded.get(name.casefold())
    if known is not None:
        message = f"--write: there is a wiring {shown(known)} already"
        raise Refused(Complaint(message, spec.file, hint="choose another name"))
    if not name.strip() or not name.isprintable():
        message = f"--write: {shown(name)} cannot be the name of a wiring"
        raise Refused(Complaint(message, spec.file, hint="write letters, digits, _ and -"))


def _write_best(answers: Sequence[FitAnswer], name: str) -> bool:
    """Add the first landing to the spec's file, if there is one; whether there was.

    Raises:
        Refused: the file is not what was read any more, or cannot take one more wiring.
        OSError: it cannot be written; it is as it was then.
    """
    best = next((answer for answer in answers if answer.feasible), None)
    if best is None:
        return False
    path = Path(best.task.spec.file)
    with alone(path):
        _add(best, path, name)
    return True


def _add(best: FitAnswer, path: Path, name: str) -> None:
    from rewire.fit.writing import with_landing

    before = path.read_bytes()
    mark = b"\xef\xbb\xbf" if before.startswith(b"\xef\xbb\xbf") else b""
    text = with_landing(before.removeprefix(mark).decode("utf-8"), best, name)
    after = mark + text.encode("utf-8")
    _check(best.task, after, name)
    if path.read_bytes() != before:
        message = "not written: somebody else changed the file meanwhile"
        raise Refused(Complaint(message, str(path), hint="run this again"))
    write_whole(path, after, force=True)


def _check(task: SwitchTask, after: bytes, name: str) -> None:
    """Read it back and compare: what does not check is never written.

    Raises:
        Refused: it does not.
    """
    from rewire.compare import compare
    from rewire.reading import SpecError, read_text

    file = task.spec.file
    try:
        spec = read_text(after, file)
        result = compare(spec, [name])[0]
    except SpecError as error:
        message = f"the wiring cannot be added: {error.faults[0].message}"
        raise Refused(Complaint(message, file, hint="report this, with the spec")) from None
    if task.obstacles(result):
        message = "the wiring as written does not check: nothing was written"
        raise Refused(Complaint(message, file, hint="report this, with the spec"))
