"""The as-built record: everything that a bench log holds, each line judged, nothing left out."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from rewire.bench.acceptance import Outcome, outcomes
from rewire.bench.assembly import State
from rewire.bench.calibration import Calibration, calibration_of
from rewire.bench.continuity import pairs_to_buzz, states_to_buzz
from rewire.bench.evidence import contradictions, evidence, found_of, states_of_log
from rewire.bench.probes import Job, Probe, job_of, probes
from rewire.reading.benchlog import BenchLog, Buzzed
from rewire.records.spec import Spec, Wiring


@dataclass(frozen=True, slots=True)
class Line:
    """One touch of the log beside what it must find."""

    state: State
    expected: Probe
    found: Buzzed
    passed: bool | None
    """None where a beep was taken for ohms that it does not tell from none."""
    contradicted: tuple[int, ...]
    """Numbers of other lines that it cannot stand beside."""


@dataclass(frozen=True, slots=True)
class Record:
    """What was measured on one wiring."""

    log: BenchLog
    wiring: Wiring
    lines: tuple[Line, ...]
    untouched: tuple[Probe, ...]
    """Touches of the continuity table that the log leaves out."""
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

    Raises:
        SpecError: a line leaves a control open on which its reading depends, or is of a state
            that cannot occur.
        LimitReached: the wiring is too large.
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
    untouched = tuple(p for p in table if (_key(p.state), frozenset(p.between)) not in touched)
    calibration = calibration_of(spec, wiring, log)
    return Record(log, wiring, lines, untouched, calibration, tuple(outcomes(spec, log)))


def _key(state: State) -> tuple[tuple[str, str], ...]:
    return tuple(state.items())


def _lines(job: Job, log: BenchLog, logged: Sequence[Sequence[State]]) -> list[Line]:
    found = found_of(job, log, logged)
    seen = evidence(job, found)
    against = {one.reading: one.others for one in contradictions(found)}
    expected = probes(job, [one.touch for one in found])
    return [
        Line(
            job.states[one.touch.state],
            expected[n],
            line,
            None if seen.only_beeped[n] else not seen.odd[n],
            against.get(n, ()),
        )
        for n, (one, line) in enumerate(zip(found, log.continuity, strict=True))
    ]
