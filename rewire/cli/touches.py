"""``rewire buzz --ask``: one reading of the ohmmeter at a time, and the log of them."""

from __future__ import annotations

import signal
import sys
from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from pathlib import Path

import click

from rewire.bench.by_hand import flow
from rewire.bench.diagnosis import Questions, likeliest, next_touch, questions
from rewire.bench.evidence import TouchReading, evidence
from rewire.bench.ohmmeter import Touch
from rewire.bench.probes import Probe, expected
from rewire.bench.short_list import Plan
from rewire.cli.files import write_whole
from rewire.cli.terminal import complain_of, write_out
from rewire.cli.trouble import Refused
from rewire.reading.benchlog import Told
from rewire.report.buzz import pair_said, state_said
from rewire.words import quantity
from rewire.words.quantity import BadQuantity
from rewire.words.wording import printable

_ANSWERS = "c closed, o open, ohms such as 12.3 or 4k7, s skip, u take back, q end"
_MOST = 1000
_SHORT = dict(zip("cosuq", "cosuq", strict=True))
_SHORT |= {"closed": "c", "open": "o", "ol": "o", "skip": "s", "undo": "u", "quit": "q", "end": "q"}
_TOLD: dict[str, Told] = {"c": "closed", "o": "open"}


def asked_one_by_one(plan: Plan, save: Path | None) -> list[TouchReading]:
    """The readings, typed one by one and written to a bench log, even if broken off."""
    found: list[TouchReading] = []
    try:
        with _ending_in_order():
            _ask(plan, found)
    finally:
        if save is not None:
            _save(plan, found, save)
    return found


def _ask(plan: Plan, found: list[TouchReading]) -> None:
    """Fill ``found`` reading by reading, so that none is lost if this is broken off.

    Questions go to standard error, answers come line by line.
    """
    asked = questions(plan)
    skipped: list[Touch] = []
    complain_of(f"{plan.wiring.name}: power off, everything discharged. Answers: {_ANSWERS}.")
    for number in range(1, _MOST):
        touch = next_touch(asked, found, skipped)
        if touch is None:
            complain_of("Enough is known.")
            return
        answer = _answer(number, plan.probe(touch), found)
        if answer == "q":
            return
        if answer == "u":
            back = plan.probe(found.pop().touch)
            skipped.clear()
            complain_of(f"Taken back: {pair_said(back.between)}.")
        elif answer == "s":
            skipped.append(touch)
        else:
            found.append(_reading(touch, answer, number))
            complain_of(f"   {_judged(plan, found[-1])}")
            _say_best_guess(asked, found)


def _judged(plan: Plan, one: TouchReading) -> str:
    seen, should = evidence(plan.job, [one]), expected(plan.probe(one.touch))
    if seen.only_beeped[0]:
        return f"a beeper cannot tell {should} from a short: read the ohms (u takes it back)"
    return f"not as it should be: {should}" if seen.odd[0] else "as it should be"


def _say_best_guess(asked: Questions, found: Sequence[TouchReading]) -> None:
    mistake, belief = likeliest(asked, found)
    if mistake is not None:
        complain_of(f"   best guess so far: {mistake.text} ({100 * belief:.0f} %)")


def _answer(number: int, probe: Probe, found: Sequence[TouchReading]) -> str:
    """A letter, or ohms as they were typed."""
    at = state_said(probe.state)
    where = f"{at}: " if at else ""
    mind = " (through a delicate movement: highest range)" if probe.overloads else ""
    question = printable(f"{number}. {where}{pair_said(probe.between)}{mind}? ")
    while True:
        click.echo(question, err=True, nl=False)
        line = sys.stdin.readline()
        if not line:
            complain_of("")
            return "q"
        word = _SHORT.get(line.strip().lower(), line.strip())
        wrong = _wrong_with(word, found)
        if not wrong:
            return word
        complain_of(wrong)


def _wrong_with(word: str, found: Sequence[TouchReading]) -> str:
    """What is wrong with an answer; empty if nothing is."""
    if word == "u" and not found:
        return "There is nothing to take back."
    if word in _SHORT:
        return ""
    try:
        quantity.read(word, quantity.OHMS)
    except BadQuantity as error:
        return f"{error.message}; answer {_ANSWERS}"
    return ""


def _reading(touch: Touch, answer: str, number: int) -> TouchReading:
    said = f"answer {number}"
    if answer in _TOLD:
        return TouchReading(touch, _TOLD[answer], None, said)
    return TouchReading(touch, "ohms", quantity.read(answer, quantity.OHMS), said)


def _save(plan: Plan, found: Sequence[TouchReading], file: Path) -> None:
    """Write readings as a bench log; on standard output if the file cannot be written."""
    text = "".join(f"{line}\n" for line in _log(plan, found))
    try:
        write_whole(file, text.encode("utf-8"), force=False)
    except (Refused, OSError):
        write_out(text)
        raise
    complain_of(f"{file}: written")


def _log(plan: Plan, found: Sequence[TouchReading]) -> Iterator[str]:
    yield "rewire_bench: 1"
    yield f"wiring: {flow(plan.wiring.name)}"
    yield "continuity:" if found else "continuity: []"
    for one in found:
        probe = plan.probe(one.touch)
        read = one.told if one.ohms is None else f"{one.ohms:g} ohm"
        aside = "" if one.told == probe.expect != "ohms" else f"  # should be {expected(probe)}"
        when = f"when: {flow(probe.state)}, between: {flow(probe.between)}"
        yield f"  - {{{when}, found: {read}}}{aside}"


@contextmanager
def _ending_in_order() -> Iterator[None]:
    """Where the program is ended from outside, or its window closed, leave by the usual way."""

    def leave(number: int, _: object) -> None:
        raise SystemExit(128 + number)

    names = [name for name in ("SIGTERM", "SIGHUP") if hasattr(signal, name)]
    before = {name: signal.signal(getattr(signal, name), leave) for name in names}
    try:
        yield
    finally:
        for name, handler in before.items():
            signal.signal(getattr(signal, name), handler)
