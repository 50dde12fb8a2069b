"""A bench log to fill in: every reading that a finished wiring has to give, to be written down."""

from __future__ import annotations

from collections.abc import Iterator

from rewire.bench.by_hand import flow
from rewire.bench.probes import expected
from rewire.bench.short_list import plan_of
from rewire.records.spec import Reading, Spec, Wiring
from rewire.words.quantity import with_unit

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
    """The text of a log in which nothing is filled in yet.

    Args:
        spec: the log's own.
        wiring: what is measured.
        file: the name the log will have, for the commands in its first comment.

    Raises:
        LimitReached: too many places, states or both.
    """
    names = [name if name.isprintable() else "FILE" for name in (spec.file, file)]
    lines = [_HEAD.format(spec=names[0], wiring=flow(wiring.name), log=names[1]).rstrip("\n")]
    for key, caution, blanks in (
        ("continuity", _CAUTION, _continuity(spec, wiring)),
        ("calibration", _POWER, map(_calibration, wiring.readings.values())),
        ("acceptance", "", (_acceptance(test.test, test.expect) for test in spec.acceptance)),
    ):
        found = list(blanks)
        if found:
            lines += ["", f"{caution}{key}:", *(f"  # - {blank}" for blank in found)]
    return "\n".join(lines) + "\n"


def _continuity(spec: Spec, wiring: Wiring) -> Iterator[str]:
    plan = plan_of(spec, wiring)
    for number in plan.shortlist.chosen:
        probe = plan.probe(plan.shown.touches[number])
        when = f"when: {flow(probe.state)}, " if probe.state else ""
        mind = "; highest range, a delicate movement" if probe.overloads else ""
        yield f"{{{when}between: {flow(probe.between)}, found: }}   # {expected(probe)}{mind}"


def _calibration(reading: Reading) -> str:
    unit = "A" if reading.quantity == "current" else "V"
    applied = with_unit(reading.full_scale, unit)
    return f"{{reading: {flow(reading.name)}, applied: {applied}, indicated: }}"


def _acceptance(test: str, expect: str) -> str:
    return f"{{test: {flow(test)}, found: }}   # {expect}"
