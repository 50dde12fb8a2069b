"""What ``rewire buzz`` says on a terminal."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from typing import TYPE_CHECKING

from rewire.bench.buzz.job import Pair, Probe
from rewire.bench.buzz.network import State
from rewire.bench.buzz.plan import Plan, by_pair
from rewire.bench.continuity import (
    LEADS,
    by_hand,
    expected,
    good_range,
    marked,
    overdriven,
    rectified,
    set_first,
)
from rewire.cli.buzz_measured import acceptance_report, calibration_report
from rewire.cli.buzz_words import (
    gathered,
    places,
    state_said,
    telling_controls,
)
from rewire.cli.table import table
from rewire.cli.terminal import Line
from rewire.compare.words import listing
from rewire.records.spec import Lamp, Meter, Pot
from rewire.words.quantity import in_ohms, with_unit

if TYPE_CHECKING:
    from rewire.bench.buzz.rank import Found
    from rewire.bench.buzz.suspects import Diagnosis, Suspect
    from rewire.cli.buzz import Buzz

Said = Line | str
_ACROSS = 4
"""Positions side by side in one table."""
_MOST = 6
"""Suspects that are told one by one."""
_TOLD = 0.001
_NAMED = 4
"""Alike suspects, hidden mistakes and the like that are named before they are counted."""


def report(one: Buzz, full: bool) -> Iterator[Said]:
    """Lines about one wiring."""
    name = one.plan.wiring.name
    if one.broken:
        yield Line(
            f"{name} does not keep what the original does: do not power it up. What follows finds "
            "slips against its own wiring, right or wrong (rewire check)", 0, "BROKEN:", "bad",
        )  # fmt: skip
    if one.diagnosis is not None:
        yield from _diagnosis(name, one.plan, one.diagnosis)
        if one.calibration is not None:
            yield from calibration_report(one.plan.wiring, one.calibration)
        yield from acceptance_report(one.acceptance)
        return
    yield Line("power off, everything discharged, this wiring alone", label=f"{name}:")
    yield from _before(one.plan)
    if full:
        yield from _table(one.plan, one.plan.everything(), "Every pair of places")
        return
    yield from _table(one.plan, one.plan.table, "What must be found")
    yield from _short(one.plan)
    yield from _hidden(one.plan)


def _before(plan: Plan) -> Iterator[Said]:
    parts = plan.job.spec.parts_of(plan.wiring).values()
    pots = [p for p in parts if isinstance(p, Pot) and p.setting_percent is None]
    for pot in pots:
        at = _setting(plan, pot.name)
        if at is not None:
            yield Line(set_first(pot.name, at), 2, "-")
    if any(isinstance(part, Lamp) for part in parts):
        yield Line("lamps are counted cold, about a tenth of their ohms when lit", 2, "-")
    yield from (Line(text, 2, "!", "bad") for text in by_hand(parts))
    yield from (Line(text, 2, "-") for text in rectified(parts))
    yield Line(
        f"touch the leads together first and take that off; closed is under {LEADS:g} Ω above it. "
        "A beeper sounds through a low shunt too: where ohms stand here, read ohms",
        2,
        "-",
    )
    yield Line(
        "open and every figure count on what the spec declares; what else hangs on a place in the "
        "set reads along, so record the same touches before anything is lifted",
        2,
        "-",
    )
    yield from _delicate(plan)


def _setting(plan: Plan, part: str) -> float | None:
    legs = [bar for bar in plan.job.network.bars if bar.part == part]
    whole = sum(leg.ohms[0] for leg in legs)
    if len(legs) != 2 or legs[0].ohms[0] != legs[0].ohms[1] or not whole:
        return None
    return 100.0 * legs[0].ohms[0] / whole


def _delicate(plan: Plan) -> Iterator[Said]:
    meters = [p.name for p in plan.job.spec.parts_of(plan.wiring).values() if isinstance(p, Meter)]
    if meters:
        yield Line(
            f"an analogue ohmmeter's low ranges drive up to 100 mA: not through {listing(meters)}; "
            f"lift one lead of {'it' if len(meters) == 1 else 'each'}, or use a digital one",
            2,
            "!",
            "bad",
        )
    yield from (Line(text, 2, "!", "bad") for text in overdriven((*plan.table, *plan.short)))


def _table(plan: Plan, probes: Sequence[Probe], title: str) -> Iterator[Said]:
    pairs = by_pair(probes)
    states = list(plan.job.states)
    names = telling_controls(states)
    for start in range(0, len(states), _ACROSS):
        part = states[start : start + _ACROSS]
        yield ""
        yield Line(f"{title}:" if start == 0 else f"{title}, further positions:")
        rows = [(*pair, *_cells(own, part)) for pair, own in pairs.items()]
        heads = [state_said(state, names) or "always" for state in part]
        yield from table(("from", "to", *heads), rows, words=range(2 + len(part)))


def _cells(own: Sequence[Probe], states: Sequence[State]) -> list[str]:
    return [marked(expected(p), p) for s in states for p in own if p.state == s]


def _short(plan: Plan) -> Iterator[Said]:
    count, least = len(plan.short), plan.shortlist.at_least
    yield ""
    if not count:
        yield Line("No touch shows any single mistake.")
        return
    proved = "no list is shorter" if plan.shortlist.is_shortest else f"at least {least} are needed"
    yield Line(
        f"The fewest touches that show every one of the {plan.detectable:,} single mistakes that "
        f"an ohmmeter can show: {count} ({proved}).",
        mark="good",
    )
    names = telling_controls(plan.job.states)
    rows = [
        (
            str(n),
            state_said(probe.state, names) or "always",
            *probe.between,
            marked(expected(probe), probe),
            good_range(probe),
        )
        for n, probe in enumerate(plan.short, 1)
    ]
    yield from table(("", "at", "from", "to", "must read", "good from to"), rows, words=range(6))


def _hidden(plan: Plan) -> Iterator[Said]:
    if not plan.hidden:
        return
    yield ""
    yield Line(f"No touch shows {len(plan.hidden)} more while every switch is at rest:")
    ways: dict[Pair | None, list[str]] = {}
    for one in plan.hidden:
        ways.setdefault(one.between, []).append(one.mistake.text)
    for between, texts in ways.items():
        more = f"; and {len(texts) - _NAMED} more" if len(texts) > _NAMED else ""
        yield Line(f"{'; '.join(texts[:_NAMED])}{more}", 2, "-")
        if between is not None:
            how = f"with the switch held between two positions {places(between)} must stay closed"
            yield Line(how, 4, "→", "meant")
        else:
            how = "look at each, and measure the part by itself with one lead off"
            yield Line(how, 4, "→", "meant")


def _diagnosis(name: str, plan: Plan, told: Diagnosis) -> Iterator[Said]:
    count = len(told.seen.found)
    if told.verdict == "untested":
        yield Line("nothing was buzzed", label=f"{name}: untested:", mark="meant")
        return
    if told.verdict == "not settled":
        said = f"{len(told.only_beeped)} of {count} readings must be taken again in ohms"
        yield Line(said, label=f"{name}: not settled:", mark="meant")
        yield from (Line(_beeped(plan, told, n), 2, "-") for n in told.only_beeped)
        return
    if told.verdict == "good":
        yield Line(
            f"all {count} readings are as they should be", label=f"{name}: good:", mark="good"
        )
        yield from _left(plan, told)
        return
    yield Line(
        f"{len(told.odd)} of {count} readings are not as they should be",
        label=f"{name}: wrong:",
        mark="bad",
    )
    yield from (Line(_odd(plan, told, n), 2, "-") for n in told.odd)
    yield from _contradictions(plan, told)
    yield from _suspects(told)
    yield from _next(plan, told)


def _left(plan: Plan, told: Diagnosis) -> Iterator[Said]:
    left = plan.not_excluded(told.seen.found)
    if not left:
        yield Line(f"They rule out every one of {plan.detectable:,} single mistakes.", 2)
        return
    yield Line(
        f"They leave {left:,} of {plan.detectable:,} single mistakes possible. The shortest list "
        "that shows all is what `rewire buzz` prints without a log.",
        2,
        mark="meant",
    )


def _beeped(plan: Plan, told: Diagnosis, number: int) -> str:
    found = told.seen.found[number]
    should = expected(plan.probe(found.touch))
    return f"{_touch(plan, found)}: a beep does not tell {should} from a short{_at(found)}"


def _odd(plan: Plan, told: Diagnosis, number: int) -> str:
    found = told.seen.found[number]
    should = expected(plan.probe(found.touch))
    return f"{_touch(plan, found)}: found {reading(found)}, should be {should}{_at(found)}"


def _touch(plan: Plan, found: Found) -> str:
    probe = plan.probe(found.touch)
    at = state_said(probe.state)
    return f"{at + ', ' if at else ''}{places(probe.between)}"


def _at(found: Found) -> str:
    return f" ({found.said})" if found.said else ""


def reading(found: Found) -> str:
    """What was read."""
    return found.told if found.ohms is None else in_ohms(found.ohms, 3)


def _contradictions(plan: Plan, told: Diagnosis) -> Iterator[Said]:
    if not told.contradictions:
        return
    yield Line("Readings that cannot all be right, whatever the wiring is; take them again:")
    for one in told.contradictions:
        found = told.seen.found
        others = " and ".join(f"{_touch(plan, found[n])} {reading(found[n])}" for n in one.others)
        this = found[one.reading]
        yield Line(f"{_touch(plan, this)} {reading(this)}, yet {others}{_at(this)}", 2, "-")


def _suspects(told: Diagnosis) -> Iterator[Said]:
    if not told.suspects:
        yield Line("No mistake that is known here explains them: take the odd readings again.")
        return
    yield Line("Suspects, best first:")
    for number, suspect in enumerate(told.suspects[:_MOST], 1):
        yield from _suspect(number, suspect, len(told.odd))
    rest = told.suspects[_MOST:]
    if rest:
        share = sum(one.belief for one in rest)
        yield Line(f"{len(rest)} others, {_belief(share)} together", 2, "-")
    if told.misread >= _TOLD:
        text = f"nothing is wrong, and what is odd was misread ({_belief(told.misread)})"
        yield Line(text, 2, "or")
    if told.search is not None:
        tried = "all" if told.search.is_whole else f"{told.search.looked:,} of {told.search.of:,}"
        yield Line(
            f"No single mistake explains everything; {tried} pairs of mistakes were tried.", 2
        )


def _suspect(number: int, suspect: Suspect, odd: int) -> Iterator[Said]:
    """One suspect; what reads alike and is the same wire's is told with it."""
    first, *others = gathered([suspect.mistakes, *suspect.alike])
    against = len(suspect.contradicts)
    speaks = f", {against} speak against it" if against > 1 else ", 1 speaks against it"
    yield Line(
        f"{first} ({_belief(suspect.belief)}; explains {suspect.explains} of {odd}"
        f"{speaks if against else ''})",
        2,
        f"{number}.",
        "bad" if number == 1 else "plain",
    )
    if others:
        more = len(others) - _NAMED
        named = "; ".join(others[:_NAMED]) + (f"; and {more} more" if more > 0 else "")
        yield Line(f"no ohmmeter tells it from: {named}", 5)


def _belief(share: float) -> str:
    return "under 1 %" if share < 0.01 else f"{100 * share:.0f} %"


def _next(plan: Plan, told: Diagnosis) -> Iterator[Said]:
    if not told.next:
        return
    touch = told.next[0]
    probe = plan.probe(touch)
    at = state_said(probe.state)
    answers = plan.answers(touch, [s.mistakes for s in told.suspects[:3]])
    said = ", ".join(f"{n}. {_answer(ohms)}" for n, ohms in enumerate(answers, 1))
    where = f"with {at}, " if at else ""
    star = " Mind the movement." if probe.overloads else ""
    suspects = f"; {said}" if said else ""
    text = f"{where}{places(probe.between)} (as it should be {expected(probe)}{suspects}).{star}"
    yield Line(text, label="Touch next:", mark="meant")


def _answer(ohms: float) -> str:
    if ohms != ohms:
        return "unknown ohms"
    if ohms <= 0.0:
        return "closed"
    return "open" if ohms == float("inf") else in_ohms(ohms, 3)


def amps(value: float) -> str:
    """A current."""
    return with_unit(value, "A", 3)
