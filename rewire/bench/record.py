"""Bench logs: one to fill in, and the as-built record, each line of a log judged."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

from rewire.bench.by_hand import flow
from rewire.bench.calibration import Calibration, Outcome, calibration_of, outcomes
from rewire.bench.evidence import contradictions, evidence, found_of, states_of_log
from rewire.bench.ohmmeter import State
from rewire.bench.probes import Job, Probe, expected, job_of, pairs_to_buzz, probes, states_to_buzz
from rewire.bench.short_list import asked_for, plan_of
from rewire.reading.benchlog import BenchLog, Buzzed
from rewire.records.spec import Reading, Spec, Wiring
from rewire.words.quantity import with_unit


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
