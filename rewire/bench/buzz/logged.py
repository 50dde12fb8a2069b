"""From a bench log to touches in full states."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from itertools import islice

import numpy as np

from rewire.bench.buzz.job import Job, planned
from rewire.bench.buzz.measure import Touch
from rewire.bench.buzz.network import State
from rewire.bench.buzz.noticing import differs
from rewire.bench.buzz.rank import Found
from rewire.circuit.states import States
from rewire.reading.benchlog import BenchLog, Buzzed
from rewire.reading.faults import Fault, SpecError
from rewire.records.spec import Spec, Switch, Wiring

_TRIED = 64
"""States in which a line that leaves controls open is tried."""


def states_of_log(spec: Spec, wiring: Wiring, log: BenchLog) -> list[list[State]]:
    """Per line of the continuity list the states that it may have been taken in.

    Raises:
        SpecError: a line is of a state that ``never`` rules out.
        LimitReached: ``never`` ties together more states than can be looked at.
    """
    moving = {p.control for p in spec.parts_of(wiring).values() if isinstance(p, Switch)}
    states = States(spec.controls, spec.never)
    found = [list(islice(_states(states, moving, line), _TRIED)) for line in log.continuity]
    never = [line for line, own in zip(log.continuity, found, strict=True) if not own]
    if never:
        raise SpecError(
            Fault(line.place, "the controls cannot stand so: 'never' rules it out",
                  "say where they stood")
            for line in never
        )  # fmt: skip
    return found


def _states(states: States, moving: set[str], line: Buzzed) -> Iterator[State]:
    frame = states.frame({*moving, *line.when}, "the states of a line of the log")
    mask = states.possible(frame)
    for name, position in line.when.items():
        at = states.controls[name].positions.index(position)
        mask &= frame.where(name, 1 << at)
    for state in frame.states(mask):
        yield {name: at for name, at in state.items() if name in moving}


def found_of(job: Job, log: BenchLog, states: Sequence[Sequence[State]]) -> list[Found]:
    """The readings of a log as touches of a job that has their states.

    Raises:
        SpecError: a line leaves a control open on which the reading depends.
    """
    found, faults = [], []
    for line, own in zip(log.continuity, states, strict=True):
        touches = list(dict.fromkeys(job.touch(state, line.between) for state in own))
        if _depends(job, touches):
            free = [n for n in own[0] if n not in line.when and len({s[n] for s in own}) > 1]
            message = f"what must be found depends on where {', '.join(free)} stood"
            faults.append(Fault(line.place, message, "add it to when"))
        found.append(Found(touches[0], line.found, line.ohms, str(line.place)))
    if faults:
        raise SpecError(faults)
    return found


def _depends(job: Job, touches: Sequence[Touch]) -> bool:
    if len(touches) < 2:
        return False
    ohms = planned(job, touches)
    return bool(differs(ohms[:1], ohms, np.zeros(1)).any())
