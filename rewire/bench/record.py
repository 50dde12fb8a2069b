"""Bench logs: one to fill in, and the as-built record, each line of a log judged."""

from __future__ import annotations

import re
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from math import inf

from rewire.bench.by_hand import flow
from rewire.bench.calibration import Calibration, calibration_of
from rewire.bench.evidence import contradictions, evidence, found_of, states_of_log
from rewire.bench.ohmmeter import State
from rewire.bench.probes import Job, Probe, expected, job_of, pairs_to_buzz, probes, states_to_buzz
from rewire.bench.short_list import asked_for, plan_of
from rewire.reading.benchlog import Accepted, BenchLog, Buzzed
from rewire.reading.faults import Fault, SpecError
from rewire.records.spec import Acceptance, Reading, Spec, Wiring
from rewire.words import quantity
from rewire.words.quantity import BadQuantity, with_unit
from rewire.words.wording import shown

_PASSED = frozenset({"pass", "passed", "ok", "good", "yes", "y"})
_FAILED = frozenset({"fail", "failed", "bad", "no", "n"})
_MEASURES = (
    quantity.SIGNED_VOLTS, quantity.AMPS, quantity.WATTS, quantity.OHMS, quantity.FARADS,
    quantity.HENRIES, quantity.METRES,
)  # fmt: skip
_BARE = re.compile(r"\s*([-+]?\d+(?:\.\d+)?)\s*([^\d\s].*)?")
_ONE_SIDED = re.compile(
    r"(?:(under|below|less than|at most|up to)|over|above|more than|at least)\s+(.+)", re.IGNORECASE
)


@dataclass(frozen=True, slots=True)
class Outcome:
    """One acceptance test and its result; ``passed`` is None where words cannot be judged."""

    test: Acceptance
    found: Accepted | None
    passed: bool | None


def outcomes(spec: Spec, log: BenchLog) -> list[Outcome]:
    """Every acceptance test of a spec in its order; those that the log leaves out too."""
    found = []
    for test in spec.acceptance:
        own = [one for one in log.acceptance if one.test == test.test]
        for one in own:
            _check_unit(test, one)
        found += [Outcome(test, one, judged(test.expect, one.found)) for one in own]
        found += [] if own else [Outcome(test, None, None)]
    return found


def _check_unit(test: Acceptance, one: Accepted) -> None:
    """Raise ``SpecError`` for a figure that has not the unit of the expected one."""
    limits, value = _limits(test.expect), _quantity(one.found)
    no_number = one.found.strip().lower() in ("nan", "inf", "-inf")
    if limits is None or (value is None and not no_number):
        return
    if no_number or value is None or value[1] != limits[2]:
        message = f"test {shown(test.test)}: found {shown(one.found)} is not in {limits[2]}"
        bare = one.found.strip() if value is not None and not value[1] else "25"
        hint = f"write found: {bare} {limits[2]}" if limits[2] else "write a number alone"
        raise SpecError([Fault(one.place, message, f"{hint}; {shown(test.expect)} is expected")])


def judged(expect: str, found: str) -> bool | None:
    """Whether a result is as expected; None where a person must say.

    Expected is a range, a limit such as ``under 1 V``, or text; found a quantity, pass or fail.

    >>> judged("36 W to 44 W", "40 W"), judged("36 to 44 W", "35 W"), judged("clean", "pass")
    (True, False, True)
    """
    word = found.strip().lower()
    if word in _PASSED or word in _FAILED:
        return word in _PASSED
    limits, value = _limits(expect), _quantity(found)
    if limits is None or value is None or value[1] != limits[2]:
        return None
    return limits[0] <= value[0] <= limits[1]


def _limits(text: str) -> tuple[float, float, str] | None:
    """Least, most and unit of a range or a limit."""
    one_sided = _ONE_SIDED.fullmatch(text.strip())
    if one_sided is not None:
        limit = _quantity(one_sided[2])
        if limit is None:
            return None
        return (-inf, *limit) if one_sided[1] else (limit[0], inf, limit[1])
    low, _, high = text.partition(" to ")
    first, last = _quantity(low), _quantity(high)
    if first is None or first[1] == "":
        first = _quantity(f"{low} {_unit_of(high)}")
    if first is None or last is None or first[1] != last[1]:
        return None
    return min(first[0], last[0]), max(first[0], last[0]), last[1]


def unit_expected(test: Acceptance) -> str:
    """The unit in which a test wants its figure; empty where it wants words."""
    limits = _limits(test.expect)
    return limits[2] if limits is not None else ""


def _unit_of(text: str) -> str:
    match = _BARE.fullmatch(text)
    return (match[2] or "").strip() if match else ""


def _quantity(text: str) -> tuple[float, str] | None:
    """A value and its unit; an unknown unit, such as Hz, as written."""
    bare = _BARE.fullmatch(text)
    for measure in _MEASURES if bare is None or bare[2] else ():
        try:
            return quantity.read(text.strip(), measure), measure.unit
        except BadQuantity:
            continue
    return None if bare is None else (float(bare[1]), (bare[2] or "").strip())


@dataclass(frozen=True, slots=True)
class LogLine:
    """One reading of the log, and what it must be."""

    state: State
    expected: Probe
    found: Buzzed
    passed: bool | None
    """None where a beep was taken where ohms must be read."""
    contradicted: tuple[int, ...]
    """Numbers of other lines that contradict it."""


@dataclass(frozen=True, slots=True)
class Record:
    """What was measured on one wiring."""

    log: BenchLog
    wiring: Wiring
    lines: tuple[LogLine, ...]
    untouched: tuple[Probe, ...]
    """Touches that are asked for and that the log leaves out."""
    calibration: Calibration
    acceptance: tuple[Outcome, ...]

    @property
    def unread(self) -> tuple[str, ...]:
        """Readings of the wiring that were not calibrated."""
        read = {run.reading for run in self.calibration.runs}
        return tuple(name for name in self.wiring.readings if name not in read)

    @property
    def failures(self) -> int:
        """Lines, runs and tests that failed."""
        runs = sum(run.passed is False for run in self.calibration.runs)
        tests = sum(one.passed is False for one in self.acceptance)
        return sum(line.passed is False for line in self.lines) + runs + tests

    @property
    def open_ends(self) -> int:
        """Touches, readings and tests that were left out or cannot be judged."""
        runs = sum(run.passed is None for run in self.calibration.runs)
        tests = sum(one.passed is None for one in self.acceptance)
        touches = sum(line.passed is None for line in self.lines)
        return len(self.untouched) + len(self.unread) + touches + runs + tests


def record_of(spec: Spec, log: BenchLog) -> Record:
    """Judge a bench log.

    Raises ``SpecError`` for a line whose state cannot occur or is left open, ``LimitReached``.
    """
    wiring = spec.wirings[log.wiring]
    logged = states_of_log(spec, wiring, log)
    states: list[State] = [*states_to_buzz(spec, wiring)]
    usual = len(states)
    states += [state for own in logged for state in own if state not in states]
    job = job_of(spec, wiring, list({tuple(s.items()): s for s in states}.values()))
    lines = tuple(_lines(job, log, logged))
    touched = {(_key(line.state), frozenset(line.found.between)) for line in lines}
    pairs = pairs_to_buzz(spec, wiring)
    table = probes(job, [job.touch(state, pair) for state in job.states[:usual] for pair in pairs])
    left = (
        tuple(p for p in asked if (_key(p.state), frozenset(p.between)) not in touched)
        for asked in (asked_for(spec, wiring, table), table)
    )
    untouched = min(left, key=len)
    calibration = calibration_of(spec, wiring, log)
    return Record(log, wiring, lines, untouched, calibration, tuple(outcomes(spec, log)))


def _key(state: State) -> tuple[tuple[str, str], ...]:
    return tuple(state.items())


def _lines(job: Job, log: BenchLog, logged: Sequence[Sequence[State]]) -> Iterator[LogLine]:
    found = found_of(job, log, logged)
    seen = evidence(job, found)
    against = {one.reading: one.others for one in contradictions(found)}
    wanted = probes(job, [one.touch for one in found])
    for n, (one, line) in enumerate(zip(found, log.continuity, strict=True)):
        passed = None if seen.only_beeped[n] else not seen.odd[n]
        state = job.states[one.touch.state]
        yield LogLine(state, wanted[n], line, passed, against.get(n, ()))


# A log to fill in

_HEAD = """\
# Bench log of {wiring} of {spec}: take the # away where you measured, and write what you read.
#
#   rewire buzz  {spec} --found {log}    which mistake explains the readings?
#   rewire sheet {spec} --log {log}      the finished job on paper
rewire_bench: 1
wiring: {wiring}
# by: who measured
# date: 2026-01-31
# instruments: with what
"""
_CAUTION = """\
# Power off, plug out, batteries off, every capacitor discharged, and all of that proved with a
# meter. These readings show every single mistake that an ohmmeter can show.
"""
_POWER = """\
# With power on, by somebody qualified: what was applied, and where the pointer stood (98 %, or a
# value of the arc).
"""


def log_starter(spec: Spec, wiring: Wiring, file: str) -> str:
    """The text of a log in which nothing is filled in yet; raises as ``plan_of``."""
    names = [name if name.isprintable() else "FILE" for name in (spec.file, file)]
    lines = [_HEAD.format(spec=names[0], wiring=flow(wiring.name), log=names[1]).rstrip("\n")]
    tests = (f"{{test: {flow(t.test)}, found: }}   # {t.expect}" for t in spec.acceptance)
    for key, caution, blanks in (
        ("continuity", _CAUTION, [*map(_continuity, plan_of(spec, wiring).short)]),
        ("calibration", _POWER, [*map(_calibration, wiring.readings.values())]),
        ("acceptance", "", [*tests]),
    ):
        if blanks:
            lines += ["", f"{caution}{key}:", *(f"  # - {blank}" for blank in blanks)]
    return "\n".join(lines) + "\n"


def _continuity(probe: Probe) -> str:
    when = f"when: {flow(probe.state)}, " if probe.state else ""
    mind = "; highest range, a delicate movement" if probe.overloads else ""
    return f"{{{when}between: {flow(probe.between)}, found: }}   # {expected(probe)}{mind}"


def _calibration(reading: Reading) -> str:
    applied = with_unit(reading.full_scale, "A" if reading.quantity == "current" else "V")
    return f"{{reading: {flow(reading.name)}, applied: {applied}, indicated: }}"
