"""``rewire fit``: can the switch at hand do the work of the old one, and how is it wired?"""

from __future__ import annotations

import codecs
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import click

from rewire.cli.answers import known_names, say_notices, write_documents
from rewire.cli.files import alone_in_folder, write_whole
from rewire.cli.options import (
    choice_option,
    file_option,
    json_option,
    number_option,
    one_name,
    text_option,
)
from rewire.cli.terminal import complain_of, with_progress, write_sections
from rewire.cli.trouble import BAD_ANSWER, LIMIT, refusal
from rewire.compare import compare
from rewire.fit.answer import FitAnswer, explained, fit_all, ranked, with_others
from rewire.fit.offers import Offer, offer_of_buzzout, offer_of_form, offers_of_drawer
from rewire.fit.task import Order, SwitchTask, task_of
from rewire.fit.writing import with_landing
from rewire.reading import SpecError, read_spec, read_text
from rewire.reading.buzzout import Buzzout, read_buzzout, shorted_half_way
from rewire.reading.drawer import read_drawer
from rewire.reading.switches import form_said, spoken_form
from rewire.records.spec import Spec
from rewire.records.switches import Switch, read_form
from rewire.report.fit import result_as_json, sections
from rewire.report.machine import document
from rewire.words.wording import listing, shown

_EACH = 2.0
"""Seconds for each switch of a drawer, where nothing else is said."""
_ALONE = 120.0
"""Seconds for each switch that is named."""
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
    write: str | None
    as_json: bool

    @property
    def seconds(self) -> float | None:
        """What each switch may take."""
        if self.time_limit is not None:
            return self.time_limit
        return _ALONE if self.drawer is None else _EACH


@click.command("fit")
@click.argument("spec_file", metavar="SPEC", type=click.Path(readable=False))
@click.option(
    "--switch",
    "switches",
    metavar="FORM|FILE",
    multiple=True,
    help="Try a switch of this form (3P4T), or the one in a buzz-out file; may be given again.",
)
@file_option("--drawer", "FILE", "Try all switches in a drawer file.")
@one_name("--replace", "switches", "PART", "Replace this switch. [default: the only one]")
@click.option(
    "--timing",
    type=click.Choice(["non-shorting", "shorting", "unknown"]),
    help="Say how the switch given as FORM moves: break before make, or shorting (make before "
    "break). [default: unstated; the report says which timing is needed]",
)
@choice_option(
    "--order",
    ["in-order", "reversed", "any"],
    "Let the knob pass the positions in this order (the legend follows).",
)
@click.option(
    "--waive",
    "waived",
    type=click.Choice(list(_WAIVED)),
    multiple=True,
    help="Allow this while the knob turns, though the original does not do it (see above).",
)
@number_option(
    "--count", "N", (1, 100), "Show up to N ways to wire it, the one with fewest wires first.", 1
)
@number_option(
    "--time-limit",
    "SECONDS",
    (0.0,),
    "Stop trying each switch after so long. [default: 120; 2 for those of a drawer]",
)
@text_option("--write", "NAME", "Add the answer to SPEC as a wiring of this name.")
@json_option
@click.pass_context
def fit_command(ctx: click.Context, /, **given: Any) -> None:
    """Wire the function of a switch to another one, or learn why it cannot be done.

    The old switch is taken out of the original wiring, with its jumpers. Each wire that was
    on it goes to a lug of the new switch, so that every position makes the same connections
    and none opens or shorts while the knob turns that did not. Fewest wires first, then fewest
    jumpers, then poles in order. When it says no, it cannot be done.

    \b
    What --waive allows while the knob turns:
      gap        a connection opens for a moment
      bridge     two circuits are shorted to each other for a moment
      interrupt  the current in a path stops for a moment
      stray      current flows for a moment where none should

    \b
    Exit status:
      0  it fits, on one of the switches at least
      1  it fits on none
      2  the input is bad
      3  it depends on a timing that is not known, or the time ran out first
    """
    asked = _Asked(**given)
    spec = read_spec(asked.spec_file)
    say_notices(spec.notices)
    old = _old_switch(spec, asked.replace)
    task = task_of(spec, old, frozenset(_WAIVED[word] for word in asked.waived), asked.order)
    offers = _offers(asked)
    if asked.write is not None:
        _check_new_name(spec, asked.write)
    answers = _answers(task, offers, asked)
    written = None if asked.write is None else _write_best(answers, asked.write)
    if asked.as_json:
        results = [result_as_json(answer) for answer in answers]
        write_documents([document("fit", spec=asked.spec_file, results=results)])
    else:
        write_sections(sections(answers))
    if written:
        meters = [part.described for part in spec.original.parts.values() if part.shows_readings]
        same = f"; it has the original's {listing(meters)}" if meters else ""
        buzz = "" if written.settled else "; the timing to be buzzed is told among the cautions"
        complain_of(f"{asked.spec_file}: wiring {asked.write} added, and checked{same}{buzz}")
    ctx.exit(_status(answers))


def _answers(task: SwitchTask, offers: Sequence[Offer], asked: _Asked) -> list[FitAnswer]:
    """All answers, best first; where none fits, the first says what would be lost."""
    found = with_progress("fitting", fit_all(task, offers, asked.seconds), len(offers))
    first, *others = ranked(list(found))
    told = explained(first, asked.seconds)
    return [with_others(told, asked.count, asked.seconds), *others]


def _status(answers: Sequence[FitAnswer]) -> int:
    if answers[0].feasible:
        return 0 if answers[0].proven and answers[0].settled else LIMIT
    return BAD_ANSWER if all(answer.proven for answer in answers) else LIMIT


def _old_switch(spec: Spec, name: str | None) -> Switch:
    """The switch to be replaced: the one named, or the only one."""
    switches = spec.all_of(Switch, spec.original)
    own = {known: part for known, part in switches.items() if known not in spec.parts}
    if name in switches and name not in own:
        message = f"{shown(name)} is among the parts that stay in every wiring"
        hint = "move it from 'parts' to 'wirings: original: parts', and to the other wirings"
        raise refusal(message, spec.file, hint)
    if not own:
        hint = "a switch to replace stands in 'wirings: original: parts'"
        raise refusal("the original has no switch of its own", spec.file, hint)
    if name is None and len(own) > 1:
        message = f"the original has {len(own)} switches"
        raise refusal(message, spec.file, f"write --replace {' or --replace '.join(own)}")
    known_names("switch", filter(None, [name]), own, spec.file)
    return own[name] if name else next(iter(own.values()))


def _offers(asked: _Asked) -> list[Offer]:
    """What is on hand."""
    found = [_offer(said, asked.timing) for said in asked.switches]
    if asked.drawer is not None:
        in_drawer = list(offers_of_drawer(read_drawer(asked.drawer)))
        if not in_drawer:
            hint = "list them under 'switches'"
            raise refusal("no switch lies in this drawer", str(asked.drawer), hint)
        found += in_drawer
    if not found:
        hint = "write --switch 4P3T, --switch FILE of a buzz-out, or --drawer FILE"
        raise refusal("no switch to fit is named", hint=hint)
    return found


def _offer(said: str, timing: str | None) -> Offer:
    if read_form(said) is None and Path(said).is_file():
        return offer_of_buzzout(_clear(read_buzzout(said)))
    if read_form(said) is not None:
        return offer_of_form(said.upper(), timing)
    meant = form_said(said)
    if meant is not None and not meant.off:
        told = meant.beside.get("timing", timing)
        if timing not in (None, told):
            message = f"--switch says {told}, --timing says {timing}"
            raise refusal(message, hint="leave one of them out")
        return offer_of_form(meant.form, told)
    usual = "write a form such as DPDT, 3P4T or 2P6T, or the file of a buzz-out"
    raise refusal(
        f"--switch: {shown(said)} is no form and no file", hint=spoken_form(said) or usual
    )


def _clear(buzzout: Buzzout) -> Buzzout:
    """A buzz-out that is not in doubt: no proof covers lugs that short while the knob turns."""
    for one in shorted_half_way(buzzout):
        message = f"not fitted, for no timing describes it: {one.said}"
        raise refusal(message, buzzout.file, "rewire identify switch tells all such readings")
    return buzzout


def _check_new_name(spec: Spec, name: str) -> None:
    """See that a wiring of this name can be added."""
    folded = {known.casefold(): known for known in spec.wirings}
    known = folded.get(name.casefold())
    if known is not None:
        message = f"--write: there is a wiring {shown(known)} already"
        raise refusal(message, spec.file, "choose another name")
    if not name.strip() or not name.isprintable():
        message = f"--write: {shown(name)} cannot be the name of a wiring"
        raise refusal(message, spec.file, "write letters, digits, _ and -")


def _write_best(answers: Sequence[FitAnswer], name: str) -> FitAnswer | None:
    """Add the first wiring to the spec's file, if there is one; the answer that was written.

    Raises:
        Refused: the file is not what was read any more, or cannot take one more wiring.
        OSError: it cannot be written; it is as it was then.
    """
    best = next((answer for answer in answers if answer.feasible), None)
    if best is None:
        return None
    path = Path(best.task.spec.file)
    with alone_in_folder(path):
        before = path.read_bytes()
        mark = codecs.BOM_UTF8 if before.startswith(codecs.BOM_UTF8) else b""
        written = with_landing(before.removeprefix(mark).decode("utf-8"), best, name)
        after = mark + written.encode("utf-8")
        _check(best.task, after, name)
        if path.read_bytes() != before:
            message = "not written: somebody else changed the file meanwhile"
            raise refusal(message, str(path), "run this again")
        write_whole(path, after, force=True)
    return best


def _check(task: SwitchTask, after: bytes, name: str) -> None:
    """Read it back and compare: what does not check is never written."""
    file, report = task.spec.file, "report this, with the spec"
    try:
        (result,) = compare(read_text(after, file), [name])
    except SpecError as error:
        message = f"the wiring cannot be added: {error.faults[0].message}"
        raise refusal(message, file, report) from None
    if task.obstacles(result):
        raise refusal("the wiring as written does not check: nothing was written", file, report)
