"""The wizard of ``rewire buzz --ask``: one touch at a time, from a terminal or from any lines."""

from __future__ import annotations

import json
import sys
from collections.abc import Iterator, Sequence
from pathlib import Path

import click

from rewire.bench.diagnosis import next_touch, questions
from rewire.bench.evidence import TouchReading, evidence
from rewire.bench.ohmmeter import Touch
from rewire.bench.probes import Probe, expected
from rewire.bench.short_list import Plan
from rewire.cli.answers import Refused
from rewire.cli.files import write_whole
from rewire.cli.terminal import write_out
from rewire.report.buzz import pair_said, state_said
from rewire.words import quantity
from rewire.words.quantity import BadQuantity
from rewire.words.wording import printable

_HELP = "c closed, o open, ohms such as 12.3 or 4k7, s skip, u take back, q end"
_MOST = 1000


def ask(plan: Plan, found: list[TouchReading]) -> None:
    """Readings, one touch at a time; questions go to standard error, answers come line by line.

    Args:
        plan: of the wiring.
        found: receives each reading as it is typed, so that none is lost if this is broken off.
    """
    asked = questions(plan)
    skipped: list[Touch] = []
    _say(f"{plan.wiring.name}: power off, everything discharged. Answers: {_HELP}.")
    for number in range(1, _MOST):
        touch = next_touch(asked, found, skipped)
        if touch is None:
            _say("Enough is known.")
            return
        answer = _answer(number, plan.probe(touch), found)
        if answer == "q":
            return
        if answer == "u":
            _take_back(plan, found, skipped)
        elif answer == "s":
            skipped.append(touch)
        else:
            found.append(_found(touch, answer, number))
            _say(_judged(plan, found[-1]))


def _judged(plan: Plan, one: TouchReading) -> str:
    seen = evidence(plan.job, [one])
    if seen.only_beeped[0]:
        should = expected(plan.probe(one.touch))
        return f"   a beep does not tell {should} from a short: read the ohms (u takes it back)"
    if not seen.odd[0]:
        return "   as it should be"
    return f"   not as it should be: {expected(plan.probe(one.touch))}"


def _say(text: str) -> None:
    click.echo(printable(text), err=True)


def _answer(number: int, probe: Probe, found: Sequence[TouchReading]) -> str:
    at = state_said(probe.state)
    where = f"{at}: " if at else ""
    mind = " (through a delicate movement: highest range)" if probe.overloads else ""
    while True:
        click.echo(
            printable(f"{number}. {where}{pair_said(probe.between)}{mind}? "), err=True, nl=False
        )
        line = sys.stdin.readline()
        if not line:
            _say("")
            return "q"
        word = line.strip()
        if _is_answer(word, found):
            return _SHORT.get(word.lower(), word)


_SHORT = {"closed": "c", "open": "o", "ol": "o", "skip": "s", "undo": "u", "quit": "q", "end": "q"}


def _is_answer(word: str, found: Sequence[TouchReading]) -> bool:
    short = _SHORT.get(word.lower(), word)
    if short == "u" and not found:
        _say("There is nothing to take back.")
        return False
    if short in ("c", "o", "s", "u", "q"):
        return True
    try:
        quantity.read(word, quantity.OHMS)
    except BadQuantity as error:
        _say(f"{error.message}; answer {_HELP}")
        return False
    return True


def _take_back(plan: Plan, found: list[TouchReading], skipped: list[Touch]) -> None:
    last = found.pop()
    skipped.clear()
    _say(f"Taken back: {pair_said(plan.probe(last.touch).between)}.")


def _found(touch: Touch, answer: str, number: int) -> TouchReading:
    said = f"answer {number}"
    if answer == "c":
        return TouchReading(touch, "closed", None, said)
    if answer == "o":
        return TouchReading(touch, "open", None, said)
    return TouchReading(touch, "ohms", quantity.read(answer, quantity.OHMS), said)


def save(plan: Plan, found: Sequence[TouchReading], path: str) -> None:
    """Write readings as a bench log; on standard output if the file cannot be written.

    Raises:
        Refused, OSError: see ``write_whole``.
    """
    text = "".join(f"{line}\n" for line in _log(plan, found))
    try:
        write_whole(Path(path), text.encode("utf-8"), force=False)
    except (Refused, OSError):
        write_out(text)
        raise
    _say(f"{path}: written")


def _log(plan: Plan, found: Sequence[TouchReading]) -> Iterator[str]:
    yield "rewire_bench: 1"
    yield f"wiring: {plan.wiring.name}"
    yield "continuity:" if found else "continuity: []"
    for one in found:
        probe = plan.probe(one.touch)
        when = ", ".join(f"{_quoted(name)}: {_quoted(at)}" for name, at in probe.state.items())
        between = ", ".join(_quoted(place) for place in probe.between)
        read = one.told if one.ohms is None else f"{one.ohms:g} ohm"
        yield f"  - {{when: {{{when}}}, between: [{between}], found: {read}}}" + _aside(probe, one)


def _aside(probe: Probe, one: TouchReading) -> str:
    should = expected(probe)
    return "" if one.told == probe.expect != "ohms" else f"  # should be {should}"


def _quoted(text: str) -> str:
    if text.replace("_", "").replace(".", "").isalnum():
        return text
    return json.dumps(text, ensure_ascii=False)  # which is YAML
