"""The buzz-out: what must be found, and what explains what was found instead; for machines too."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from itertools import pairwise

from rewire.bench.calibration import Calibration, Outcome
from rewire.bench.diagnosis import Diagnosis, Suspect, not_excluded, read_by
from rewire.bench.evidence import Contradiction, TouchReading
from rewire.bench.mistakes import Mistake
from rewire.bench.ohmmeter import State
from rewire.bench.probes import Pair, Probe, expected, marked
from rewire.bench.short_list import Hidden, Plan, by_pair
from rewire.records.parts import Pot
from rewire.report import measured
from rewire.report.machine import JSON, Keys, as_json
from rewire.report.measured import (
    acceptance_tables,
    before_words,
    calibration_sections,
    good_range,
)
from rewire.report.section import Block, ReportSection, Table, Tone, Words, note, row, table_of
from rewire.words.quantity import in_ohms
from rewire.words.wording import listing

_ACROSS = 4
"""Positions side by side in one table."""
_MOST = 6
"""Suspects, or explanations, that are listed one by one."""
_TOLD = 0.001
"""Belief from which a misreading is mentioned."""
_NAMED = 4
"""Alike suspects, hidden mistakes and the like that are named before they are counted."""


@dataclass(frozen=True)
class Buzz:
    """What came of one wiring."""

    plan: Plan
    diagnosis: Diagnosis | None = None
    """What the readings say, if there are any."""
    calibration: Calibration | None = None
    acceptance: tuple[Outcome, ...] = ()
    broken: bool = False
    """Whether the wiring as it is meant does not keep what the original does."""

    @property
    def is_bad(self) -> bool:
        """Whether anything that was measured is not as it should be."""
        wrong = self.diagnosis is not None and self.diagnosis.verdict == "wrong"
        off = self.calibration is not None and self.calibration.passed is False
        return wrong or off or any(one.passed is False for one in self.acceptance)

    @property
    def is_unsettled(self) -> bool:
        """Whether a reading says nothing: a beep where ohms must be read."""
        return self.diagnosis is not None and self.diagnosis.verdict == "not settled"


def sections(one: Buzz) -> Iterator[ReportSection]:
    """One wiring: the shortest list of readings; or what the readings say."""
    yield from _danger(one)
    if one.diagnosis is None:
        yield ReportSection("buzz", "", tuple(_before(one.plan)))
        yield ReportSection("short", "", tuple(_short(one.plan)))
        return
    yield ReportSection("buzz", "", tuple(_diagnosis(one.plan, one.diagnosis)))
    if one.calibration is not None:
        yield from calibration_sections(one.plan.wiring, one.calibration)
    yield ReportSection("acceptance", "", tuple(acceptance_tables(one.acceptance)))


def full_sections(one: Buzz) -> Iterator[ReportSection]:
    """The same, then contact by contact and every pair of places, position by position."""
    yield from sections(one)
    yield from _tables(one.plan, one.plan.table, "Contact by contact")
    yield from _tables(one.plan, one.plan.everything(), "Every pair of lugs and points")


def _danger(one: Buzz) -> Iterator[ReportSection]:
    if one.broken:
        said = (
            f"{one.plan.wiring.name} does not keep what the original does: do not power it up. "
            "What follows finds slips against its own wiring, right or wrong (rewire check)"
        )
        yield ReportSection("broken", "", (Words(said, "BROKEN:", tone="bad"),))


def telling_controls(states: Sequence[State]) -> list[str]:
    """Controls that are not in one position in all states."""
    names = list(states[0]) if states else []
    return [name for name in names if len({state[name] for state in states}) > 1]


def state_said(state: State, names: Sequence[str] | None = None) -> str:
    """``METER at BIAS``; position alone where there is one control."""
    if names is not None and len(names) == 1:
        return state[names[0]]
    return ", ".join(f"{name} at {state[name]}" for name in (state if names is None else names))


def pair_said(pair: Pair) -> str:
    """``S1.A to S1.A1``."""
    return f"{pair[0]} to {pair[1]}"


def _before(plan: Plan) -> Iterator[Words]:
    """What to do before the first reading, and what the readings depend on."""
    yield Words("power off, everything discharged, this wiring alone", f"{plan.wiring.name}:")
    spec = plan.job.spec
    pots = [p.name for p in spec.all_of(Pot, plan.wiring).values() if p.setting_percent is None]
    settings = {name: at for name in pots if (at := _setting(plan, name)) is not None}
    yield from before_words(spec, plan.wiring, settings, (*plan.table, *plan.short))


def _setting(plan: Plan, part: str) -> float | None:
    legs = [bar for bar in plan.job.network.bars if bar.part == part]
    whole = sum(leg.ohms[0] for leg in legs)
    if len(legs) != 2 or legs[0].ohms[0] != legs[0].ohms[1] or not whole:
        return None
    return 100.0 * legs[0].ohms[0] / whole


def _tables(plan: Plan, probes: Sequence[Probe], title: str) -> Iterator[ReportSection]:
    pairs = by_pair(probes)
    states = list(plan.job.states)
    names = telling_controls(states)
    for start in range(0, len(states), _ACROSS):
        part = states[start : start + _ACROSS]
        heads = [state_said(state, names) or "always" for state in part]
        rows = tuple(
            row(*pair, *(marked(expected(p), p) for s in part for p in own if p.state == s))
            for pair, own in pairs.items()
        )
        further = ", further positions" if start else ""
        yield ReportSection("table", title + further, (Table(("from", "to", *heads), rows),))


def _short(plan: Plan) -> Iterator[Block]:
    """The fewest readings, and what no reading at rest finds."""
    count = len(plan.short)
    if not count:
        yield Words("No reading finds any single mistake.")
        return
    proved = "no list is shorter" if plan.shortlist.is_shortest else "fewer may do"
    finds = f"find any one of the {plan.detectable:,} mistakes that an ohmmeter can show"
    yield Words(f"{count} readings {finds} ({proved}):", tone="good")
    names = telling_controls(plan.job.states)
    yield table_of({
        "": [str(number) for number in range(1, count + 1)],
        "at": _once([state_said(probe.state, names) or "always" for probe in plan.short]),
        "from": [probe.between[0] for probe in plan.short],
        "to": [probe.between[1] for probe in plan.short],
        "must read": [marked(expected(probe), probe) for probe in plan.short],
        "good from to": [good_range(probe) for probe in plan.short],
    }, words=("", "at", "from", "to", "must read", "good from to"))  # fmt: skip
    yield from _hidden(plan.hidden)


def _once(texts: Sequence[str]) -> list[str]:
    """Each text where it changes, nothing where it stays the same."""
    return ["" if text == before else text for before, text in pairwise(["", *texts])]


def _hidden(hidden: Sequence[Hidden]) -> Iterator[Words]:
    """What shows only with the knob held half way, and what no ohmmeter finds in the set."""
    held = dict.fromkeys(pair_said(one.between) for one in hidden if one.between is not None)
    if held:
        said = f"then, with the switch held half way between two positions: {listing(list(held))}"
        yield Words(f"{said} must stay closed", "-", tone="meant", indent=2)
    look = [one.mistake.text for one in hidden if one.between is None]
    if look:
        said = f"no reading finds {len(look)} more: look at each, or lift one lead and measure it"
        yield Words(f"{said}: {_some(look)}", "-", tone="meant", indent=2)


def _some(texts: Sequence[str]) -> str:
    left = len(texts) - _NAMED
    return "; ".join([*texts[:_NAMED], *([f"and {left} more"] if left > 0 else [])])


def _diagnosis(plan: Plan, told: Diagnosis) -> Iterator[Words]:
    count, left = len(told.seen.found), not_excluded(plan, told.seen.found)
    verdicts: dict[str, tuple[Tone, str]] = {
        "untested": ("meant", "nothing was buzzed"),
        "not settled": (
            "meant", f"{len(told.only_beeped)} of {count} readings must be taken again in ohms"
        ),
        "good": ("good", f"all {count} readings are as they should be"),
        "wrong": ("bad", f"{len(told.odd)} of {count} readings are not as they should be"),
    }  # fmt: skip
    tone, said = verdicts[told.verdict]
    yield Words(said, f"{plan.wiring.name}: {told.verdict}:", tone=tone)
    if told.verdict == "not settled":
        yield from (note(_beeped(plan, told.seen.found[n])) for n in told.only_beeped)
    if told.verdict == "good" and left:
        yield Words(
            f"They leave {left:,} of {plan.detectable:,} single mistakes possible. The shortest "
            "list that shows all is what `rewire buzz` prints without a log.",
            tone="meant", indent=2,
        )  # fmt: skip
    elif told.verdict == "good":
        yield Words(f"They rule out every one of {plan.detectable:,} single mistakes.", indent=2)
    if told.verdict == "wrong":
        yield from (note(_odd(plan, told.seen.found[n])) for n in told.odd)
        yield from _contradictions(plan, told)
        yield from _next(plan, told)
        yield from _suspects(told)


def _beeped(plan: Plan, found: TouchReading) -> str:
    should = expected(plan.probe(found.touch))
    return f"{_touch(plan, found)}: a beeper cannot tell {should} from a short{_at(found)}"


def _odd(plan: Plan, found: TouchReading) -> str:
    should = expected(plan.probe(found.touch))
    return f"{_touch(plan, found)}: found {_reading(found)}, should be {should}{_at(found)}"


def _touch(plan: Plan, found: TouchReading) -> str:
    probe = plan.probe(found.touch)
    at = state_said(probe.state)
    return f"{at + ', ' if at else ''}{pair_said(probe.between)}"


def _at(found: TouchReading) -> str:
    return f" ({found.said})" if found.said else ""


def _reading(found: TouchReading) -> str:
    return found.told if found.ohms is None else in_ohms(found.ohms, 3)


def _contradictions(plan: Plan, told: Diagnosis) -> Iterator[Words]:
    if told.contradictions:
        yield Words("Readings that cannot all be right, whatever the wiring is; take them again:")
    found = told.seen.found
    for one in told.contradictions:
        others = " and ".join(f"{_touch(plan, found[n])} {_reading(found[n])}" for n in one.others)
        this = found[one.reading]
        yield note(f"{_touch(plan, this)} {_reading(this)}, yet {others}{_at(this)}")


def _suspects(told: Diagnosis) -> Iterator[Words]:
    if not told.suspects:
        yield Words("No mistake that is known here explains them: take the odd readings again.")
        return
    yield Words("Suspects, best first:")
    for number, suspect in enumerate(told.suspects[:_MOST], 1):
        yield from _suspect(number, suspect, len(told.odd))
    rest = told.suspects[_MOST:]
    if rest:
        yield note(f"{len(rest)} others, {_belief(sum(one.belief for one in rest))} together")
    if told.misread >= _TOLD:
        text = f"nothing is wrong and the odd readings were misread ({_belief(told.misread)})"
        yield Words(text, "or", indent=2)
    if told.search is not None:
        tried = "all" if told.search.is_whole else f"{told.search.looked:,} of {told.search.of:,}"
        said = f"No single mistake explains everything; {tried} pairs of mistakes were tried."
        yield Words(said, indent=2)


def _suspect(number: int, suspect: Suspect, odd: int) -> Iterator[Words]:
    """One suspect; what reads alike and is the same wire's is told with it."""
    first, *others = _gathered([suspect.mistakes, *suspect.alike])
    against = len(suspect.contradicts)
    speaks = f", {against} against it"
    yield Words(
        f"{first} ({_belief(suspect.belief)}; explains {suspect.explains} of {odd}"
        f"{speaks if against else ''})", f"{number}.",
        tone="bad" if number == 1 else "plain", indent=2,
    )  # fmt: skip
    if others:
        yield Words(f"reads the same: {_some(others)}", indent=5)


def _faults(mistakes: Sequence[Mistake]) -> str:
    """One mistake, or two."""
    return " and ".join(mistake.text for mistake in mistakes)


def _gathered(hypotheses: Sequence[Sequence[Mistake]]) -> list[str]:
    """Suspects in words; a wire that may be on several wrong lugs is named once."""
    wrong: dict[str, list[str]] = {}
    said: dict[str, None] = {}
    for mistakes in hypotheses:
        first = mistakes[0]
        if len(mistakes) > 1 or first.kind != "wrong lug":
            said[_faults(mistakes)] = None
            continue
        instead = first.lugs[1]
        before, _, after = first.text.partition(f" on {instead} instead")
        wrong.setdefault(f"{before} on \0 instead{after}", []).append(instead)
        said[f"{before} on \0 instead{after}"] = None
    return [text.replace("\0", listing(wrong.get(text, ()), "or")) for text in said]


def _belief(share: float) -> str:
    return "under 1 %" if share < 0.01 else f"{100 * share:.0f} %"


def _next(plan: Plan, told: Diagnosis) -> Iterator[Words]:
    if not told.next:
        return
    touch = told.next[0]
    probe = plan.probe(touch)
    at = state_said(probe.state)
    (answers,) = read_by(plan.job, [s.mistakes for s in told.suspects[:3]], [touch])
    numbered = (f"{n}. {_answer(float(ohms))}" for n, ohms in enumerate(answers, 1))
    said = ", ".join([f"good {expected(probe)}", *numbered]).replace(", 1.", "; suspect 1.")
    where = f"with {at}, " if at else ""
    mind = " Mind the movement." if probe.overloads else ""
    text = f"{where}{pair_said(probe.between)} ({said}).{mind}"
    yield Words(text, "Read next:", tone="meant")


def _answer(ohms: float) -> str:
    if ohms != ohms:
        return "unknown ohms"
    if ohms <= 0.0:
        return "closed"
    return "open" if ohms == float("inf") else in_ohms(ohms, 3)


def result_as_json(one: Buzz, full: bool) -> JSON:
    """One wiring, as ``rewire buzz`` gives it."""
    plan = one.plan
    told: JSON = as_json({
        "wiring": plan.wiring.name,
        "states": plan.job.states,
        "tests": _tests(plan, full),
        "at_least": plan.shortlist.at_least,
        "mistakes": len(plan.mistakes),
        "detectable": plan.detectable,
        "hidden": [
            {**as_json(hidden.mistake, _KEYS), "between_positions": hidden.between}
            for hidden in plan.hidden
        ],
        "harmless": plan.harmless,
        **({} if one.diagnosis is None else _diagnosis_as_json(plan, one.diagnosis)),
        **({} if one.calibration is None else {"calibration": one.calibration}),
        **({"acceptance": one.acceptance} if one.acceptance else {}),
    }, _KEYS)  # fmt: skip
    return told


def _tests(plan: Plan, full: bool) -> list[JSON]:
    """The table and the short list; each touch once."""

    def key(probe: Probe) -> tuple[tuple[tuple[str, str], ...], frozenset[str]]:
        return tuple(probe.state.items()), frozenset(probe.between)

    short = {key(probe) for probe in plan.short}
    listed = plan.everything() if full else (*plan.table, *plan.short)
    once = {key(probe): probe for probe in reversed(listed)}
    return [{**_test(once[at]), "short_list": at in short} for at in reversed(once)]


def _test(probe: Probe) -> JSON:
    return {
        **_place(probe),
        "expect": probe.expect,
        "ohms": probe.ohms if probe.expect == "ohms" else None,
        "spread_percent": 100.0 * probe.spread,
        "diodes": probe.diodes,
        "plus_at": probe.plus,
        "overloads": [{"part": name, "times_full_scale": times} for name, times in probe.overloads],
    }


def _place(probe: Probe) -> JSON:
    return {"state": probe.state, "between": probe.between}


def _diagnosis_as_json(plan: Plan, told: Diagnosis) -> JSON:
    search = told.search
    return {
        "verdict": told.verdict,
        "readings": len(told.seen.found),
        "odd": [{"reading": n, **_odd_as_json(plan, told.seen.found[n])} for n in told.odd],
        "contradictions": told.contradictions,
        "suspects": told.suspects,
        "misread_percent": 100.0 * told.misread,
        "next": [_place(plan.probe(touch)) for touch in told.next],
        "pairs": None if search is None else {"looked": search.looked, "of": search.of},
        "not_excluded": not_excluded(plan, told.seen.found),
    }


def _odd_as_json(plan: Plan, found: TouchReading) -> JSON:
    probe = plan.probe(found.touch)
    should = {"expect": probe.expect, "ohms": probe.ohms if probe.expect == "ohms" else None}
    return {**_place(probe), "found": found.told, "found_ohms": found.ohms, **should}


def _suspect_as_json(one: Suspect) -> JSON:
    first = one.mistakes[0]
    about = {"wire": first.wire, "part": first.part, "lugs": first.lugs or None}
    return {
        "fault": _faults(one.mistakes),
        **{key: value for key, value in about.items() if value is not None},
        "explains": one.explains,
        "contradicts": len(one.contradicts),
        "against": one.contradicts,
        "belief_percent": 100.0 * one.belief,
        "mistakes": one.mistakes,
        "alike": [_faults(mistakes) for mistakes in one.alike],
    }


_KEYS: Keys = {
    Mistake: "fault=text kind wire part lugs other_wire=other",
    Contradiction: "reading others at_most_ohms=at_most",
    Suspect: _suspect_as_json,
    **measured.KEYS,
}
