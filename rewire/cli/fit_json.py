"""Machine output of ``rewire fit``.

Each of ``results`` is one switch, best first:

``feasible``     whether it can be landed
``switch``       its form, ``table`` for a table or a buzz-out
``offer``        what it is called on the terminal
``positions``    position → throw, counted from 1; ``open`` where it closes nothing
``lugs``         lug → terminals and points landed there
``jumpers``      pairs of lugs
``spare``        lugs that nothing lands on
``connections``  stubs that land, each on one lug
``optimal``      whether fewer connections, or as many and fewer jumpers, are proved impossible
``least_jumpers`` no landing with so many connections has fewer jumpers
``timing``       pole → timing that the landing needs and that is not known: it fits if so
``wires``        pairs of places that a plain wire must join, past the switch
``part``         the name of the new switch in the wiring
``verdict``      of the comparison: kept, or changed where something is waived
``findings``     what is different, for it was waived
``dropped``      where nothing fits: what the best attempt loses, as findings
``alternatives`` further landings, with --count
``warnings``     of ratings: what its contacts break and carry
``ways_out``     where nothing fits, what would do: ``throws`` or ``poles`` needed, ``timing``
                 per pole, what to ``waive``, a ``relay`` (changeover poles, positions it is
                 pulled in at), pairs of places to ``combine``
``connections_lost`` where nothing fits: ties lost, counted once per position
``fewest_proven``    whether no attempt loses fewer
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import asdict

from rewire.cli.as_json import JSON, finding_as_json
from rewire.compare.findings import INFORMATION
from rewire.fit.answer import FitAnswer


def fitted(file: str, answers: Sequence[FitAnswer]) -> JSON:
    """What ``rewire fit`` answers on one spec."""
    head = {"rewire": 1, "command": "fit", "spec": file}
    return {**head, "results": [_answer(answer) for answer in answers]}


def _answer(answer: FitAnswer) -> JSON:
    out = answer.ways_out
    return {
        "feasible": answer.feasible,
        "switch": answer.offer.switch.form,
        "offer": answer.offer.name,
        **_landed(answer),
        "optimal": answer.proven,
        "dropped": [finding_as_json(finding) for finding in answer.lost],
        "connections_lost": None if answer.loss is None else answer.loss.connections,
        "fewest_proven": None if answer.loss is None else answer.loss.proven,
        "ways_out": None if out is None else asdict(out),
    }


def _landed(answer: FitAnswer) -> JSON:
    landing, plan, result = answer.landing, answer.plan, answer.result
    if landing is None or plan is None or result is None:
        return {}
    different = (f for f in result.findings if f.kind not in INFORMATION)
    return {
        "part": plan.switch.name,
        "positions": dict(answer.positions),
        "lugs": plan.landed,
        "jumpers": [list(pair) for pair in plan.jumpers],
        "spare": list(landing.spare(answer.offer.switch.terminals)),
        "connections": landing.connections,
        "alternatives": [
            {
                "lugs": plan.landed,
                "jumpers": [list(pair) for pair in plan.jumpers],
                "connections": landing.connections,
            }
            for landing, plan in answer.others
        ],
        "warnings": [{"kind": s.kind, "message": s.message, "bad": s.bad} for s in answer.strains],
        "least_jumpers": answer.found.least_jumpers,
        "timing": dict(answer.asked),
        "wires": [list(pair) for pair in answer.task.hardwired],
        "verdict": result.verdict,
        "findings": [finding_as_json(finding) for finding in different],
    }
