"""Machine output of ``rewire buzz``."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING

from rewire.cli.as_json import JSON
from rewire.cli.buzz_measured import acceptance_json, calibration_json
from rewire.cli.buzz_words import faults

if TYPE_CHECKING:
    from rewire.bench.buzz.job import Probe
    from rewire.bench.buzz.measure import Touch
    from rewire.bench.buzz.mistakes import Mistake
    from rewire.bench.buzz.plan import Plan
    from rewire.bench.buzz.suspects import Diagnosis, Suspect
    from rewire.cli.buzz import Buzz


def buzzed(file: str, results: Sequence[Buzz], full: bool) -> JSON:
    """What ``rewire buzz`` answers on one spec."""
    return {
        "rewire": 1, "command": "buzz", "spec": file,
        "results": [_result(one, full) for one in results],
    }  # fmt: skip


def _result(one: Buzz, full: bool) -> JSON:
    plan = one.plan
    return {
        "wiring": plan.wiring.name,
        "states": [dict(state) for state in plan.job.states],
        "tests": _tests(plan, full),
        "at_least": plan.shortlist.at_least,
        "mistakes": len(plan.mistakes),
        "detectable": plan.detectable,
        "hidden": [_hidden_of(plan, n) for n in range(len(plan.hidden))],
        "harmless": plan.harmless,
        **({} if one.diagnosis is None else _diagnosis(plan, one.diagnosis)),
        **({} if one.calibration is None else {"calibration": calibration_json(one.calibration)}),
        **({"acceptance": acceptance_json(one.acceptance)} if one.acceptance else {}),
    }


def _tests(plan: Plan, full: bool) -> list[JSON]:
    """The table and the short list; each touch once."""
    short = {_key(probe) for probe in plan.short}
    listed = plan.everything() if full else (*plan.table, *plan.short)
    once = {_key(probe): probe for probe in reversed(listed)}
    return [{**_test(once[key]), "short_list": key in short} for key in reversed(once)]


def _key(probe: Probe) -> tuple[tuple[tuple[str, str], ...], frozenset[str]]:
    return tuple(probe.state.items()), frozenset(probe.between)


def _test(probe: Probe) -> JSON:
    return {
        "state": dict(probe.state),
        "between": list(probe.between),
        "expect": probe.expect,
        "ohms": probe.ohms if probe.expect == "ohms" else None,
        "spread_percent": 100.0 * probe.spread,
        "diodes": list(probe.diodes),
        "plus_at": list(probe.plus),
        "overloads": [{"part": name, "times_full_scale": times} for name, times in probe.overloads],
    }


def _hidden_of(plan: Plan, number: int) -> JSON:
    one = plan.hidden[number]
    between = None if one.between is None else list(one.between)
    return {**_mistake(one.mistake), "between_positions": between}


def _mistake(mistake: Mistake) -> JSON:
    return {
        "fault": mistake.text, "kind": mistake.kind, "wire": mistake.wire, "part": mistake.part,
        "lugs": list(mistake.lugs), "other_wire": mistake.other,
    }  # fmt: skip


def _diagnosis(plan: Plan, told: Diagnosis) -> JSON:
    search = told.search
    return {
        "verdict": told.verdict,
        "readings": len(told.seen.found),
        "odd": [_odd(plan, told, n) for n in told.odd],
        "contradictions": [
            {"reading": one.reading, "others": list(one.others), "at_most_ohms": one.at_most}
            for one in told.contradictions
        ],
        "suspects": [_suspect(one) for one in told.suspects],
        "misread_percent": 100.0 * told.misread,
        "next": [_place(plan, touch) for touch in told.next],
        "pairs": None if search is None else {"looked": search.looked, "of": search.of},
        "not_excluded": plan.not_excluded(told.seen.found),
    }  # fmt: skip


def _odd(plan: Plan, told: Diagnosis, number: int) -> JSON:
    found = told.seen.found[number]
    probe = plan.probe(found.touch)
    return {
        "reading": number, **_place(plan, found.touch), "found": found.told,
        "found_ohms": found.ohms,
        "expect": probe.expect, "ohms": probe.ohms if probe.expect == "ohms" else None,
    }  # fmt: skip


def _place(plan: Plan, touch: Touch) -> JSON:
    probe = plan.probe(touch)
    return {"state": dict(probe.state), "between": list(probe.between)}


def _suspect(one: Suspect) -> JSON:
    first = one.mistakes[0]
    about = {"wire": first.wire, "part": first.part, "lugs": list(first.lugs) or None}
    return {
        "fault": faults(one.mistakes),
        **{key: value for key, value in about.items() if value is not None},
        "explains": one.explains,
        "contradicts": len(one.contradicts),
        "against": list(one.contradicts),
        "belief_percent": 100.0 * one.belief,
        "mistakes": [_mistake(mistake) for mistake in one.mistakes],
        "alike": [faults(mistakes) for mistakes in one.alike],
    }
