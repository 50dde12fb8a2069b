"""Ratings: what the contacts of a landed switch break and carry, against what they may."""

from __future__ import annotations

from rewire.circuit import LimitReached
from rewire.fit.build import Plan, wiring_of, with_wiring
from rewire.fit.search import Task
from rewire.reading import SpecError
from rewire.values.assemble import work_out
from rewire.values.contacts import contact_warnings
from rewire.values.model import Caution

_NAME = "fit"


def strains(task: Task, plan: Plan) -> tuple[Caution, ...]:
    """Warnings about the new switch; ``bad`` where a rating is passed. What is unknown says so."""
    wiring = wiring_of(task.bare, plan, _NAME)
    try:
        worked = work_out(with_wiring(task.spec, wiring), wiring)
    except (LimitReached, SpecError) as error:
        return (Caution("limit", f"ratings not checked: {error}", False, plan.switch.name),)
    found = contact_warnings(worked.board, list(worked.setups.values()), worked.values)
    return tuple(one for one in found if one.part == plan.switch.name)
