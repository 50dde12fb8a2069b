"""The answer for each switch: how it is landed, or what would be lost."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from itertools import islice
from typing import TYPE_CHECKING

from rewire.circuit import LimitReached
from rewire.compare import Finding, Result, compare
from rewire.fit.clauses import Clock
from rewire.fit.offers import Detents, Landing, Offer, Order, detents_for
from rewire.fit.plan import (
    LandingPlan,
    changes_for,
    compared,
    free_name,
    landing_plan,
    wiring_of,
    with_wiring,
)
from rewire.fit.search import (
    Loss,
    SearchResult,
    alternatives,
    least_loss,
    search,
    without_idle_throws,
)
from rewire.fit.task import SwitchTask, hardwired
from rewire.fit.ways_out import WaysOut, ways_out
from rewire.reading import SpecError
from rewire.records.spec import Timing

if TYPE_CHECKING:
    from rewire.values.model import Caution


@dataclass(frozen=True)
class FitOptions:
    """How a switch may be used."""

    order: Order = "in-order"
    seconds: float | None = None
    count: int = 1


@dataclass(frozen=True)
class FitAnswer:
    """What came of one offer."""

    task: SwitchTask
    """What was landed; with the plain wires that it takes."""
    offer: Offer
    landing: Landing | None
    plan: LandingPlan | None
    result: Result | None
    """The comparison of the landing, or of the best attempt."""
    found: SearchResult
    loss: Loss | None = None
    ways_out: WaysOut | None = None
    others: tuple[tuple[Landing, LandingPlan], ...] = ()
    """Further landings, cheapest first."""
    strains: tuple[Caution, ...] = ()
    """What its contacts break and carry, where that is beyond a rating, near it or unknown."""
    asked: tuple[tuple[str, Timing], ...] = ()
    """Poles (or sections, by their first lug) whose timing is not known, and the timing without
    which the landing is not right. Empty: it is right whatever those timings are."""

    @property
    def feasible(self) -> bool:
        """Whether it can be landed."""
        return self.landing is not None

    @property
    def settled(self) -> bool:
        """Whether it fits as it is known: no timing has to be found out first."""
        return self.feasible and not self.asked

    @property
    def proven(self) -> bool:
        """The landing is the cheapest there is; without a landing: there is none."""
        return self.found.proven

    @property
    def positions(self) -> list[tuple[str, int | str]]:
        """Per position of the control the throw that serves it, from 1; ``open`` for none."""
        detents = self.landing.detents if self.landing else ()
        return [
            (position, "open" if self.offer.detents[detent] == "open" else detent + 1)
            for position, detent in zip(self.task.positions, detents, strict=False)
        ]

    @property
    def lost(self) -> tuple[Finding, ...]:
        """What the best attempt loses."""
        findings = () if self.loss is None else self.loss.result.findings
        kinds = ("dropped", "gap", "bridge", "interrupted", "stray", "rule")
        return tuple(f for f in findings if f.kind in kinds and not f.meant)


def fit_one(task: SwitchTask, offer: Offer, wish: FitOptions) -> FitAnswer:
    """Land a task on one offer.

    Raises:
        LimitReached: the comparison of a landing is beyond its limits.
    """
    detents = detents_for(offer, len(task.demands), wish.order)
    clock = Clock(wish.seconds)
    found = search(task, offer, detents, clock)
    if found.landing is None and found.proven and detents:
        task, found = _with_plain_wires(task, found, offer, detents, clock)
    if found.landing is None:
        return FitAnswer(task, offer, None, None, None, found)
    return _landed(task, offer, found, found.landing)


def _with_plain_wires(
    task: SwitchTask, refused: SearchResult, offer: Offer, detents: Sequence[Detents], clock: Clock
) -> tuple[SwitchTask, SearchResult]:
    """Land it with as few plain wires past the switch as will do; else as it was refused."""
    pairs = task.always_connected()
    wired = hardwired(task, pairs)
    found = search(wired, offer, detents, clock) if pairs else refused
    if found.landing is None:
        return (task, refused) if found.proven else (task, found)
    for pair in pairs:
        fewer = hardwired(task, [one for one in wired.hardwired if one != pair])
        again = search(fewer, offer, detents, clock) if fewer.hardwired else refused
        if again.landing is not None:
            wired, found = fewer, again
    return wired, found


def explained(answer: FitAnswer, wish: FitOptions) -> FitAnswer:
    """An answer that says no, with what the best attempt loses and what might help."""
    if answer.feasible or not answer.proven:
        return answer
    task = answer.task
    detents = detents_for(answer.offer, len(task.demands), wish.order)
    loss = least_loss(task, answer.offer, detents, Clock(wish.seconds))
    return replace(answer, loss=loss, ways_out=ways_out(task, answer.offer, wish.order))


def rated(answer: FitAnswer) -> FitAnswer:
    """An answer that says yes, with what its contacts break and carry against their ratings.

    What is unknown says so.
    """
    from rewire.values.assemble import work_out
    from rewire.values.contacts import contact_warnings
    from rewire.values.model import Caution

    if answer.plan is None:
        return answer
    name = answer.plan.switch.name
    wiring = wiring_of(answer.task.bare, answer.plan, "fit")
    try:
        worked = work_out(with_wiring(answer.task.spec, wiring), wiring)
    except (LimitReached, SpecError) as error:
        unchecked = Caution("limit", f"ratings not checked: {error}", False, name)
        return replace(answer, strains=(unchecked,))
    found = contact_warnings(worked.board, list(worked.setups.values()), worked.values)
    return replace(answer, strains=tuple(one for one in found if one.part == name))


def with_others(answer: FitAnswer, wish: FitOptions) -> FitAnswer:
    """An answer that says yes, with as many further landings as were asked for."""
    if answer.landing is None or answer.plan is None or wish.count == 1:
        return answer
    task = answer.task
    detents = detents_for(answer.offer, len(task.demands), wish.order)
    found = alternatives(task, answer.offer, detents, Clock(wish.seconds), answer.landing)
    name = answer.plan.switch.name
    others = (
        (landing, landing_plan(task.bare, answer.offer, landing, name))
        for landing in islice(found, wish.count - 1)
    )
    return replace(answer, others=tuple(others))


def ranked(answers: Sequence[FitAnswer]) -> list[FitAnswer]:
    """Those that fit first: within their ratings, whatever their timing, with few lugs to spare."""
    return sorted(answers, key=_rank)


def _rank(answer: FitAnswer) -> tuple[object, ...]:
    if answer.landing is None:
        throws = len(answer.offer.detents) < len(answer.task.positions)
        return 1, throws, not answer.found.at_rest, len(answer.offer.switch.terminals)
    over = any(strain.bad for strain in answer.strains)
    spare = len(answer.landing.spare(answer.offer.switch.terminals))
    return 0, over, not answer.settled, spare, *answer.landing.cost


def _landed(task: SwitchTask, offer: Offer, found: SearchResult, landing: Landing) -> FitAnswer:
    name = free_name(task.spec, task.bare.switch.name)
    plan = landing_plan(task.bare, offer, landing, name)
    wiring = wiring_of(task.bare, plan, "fit")
    result = compare(with_wiring(task.spec, wiring), [wiring.name])[0]
    changes = changes_for(result.findings, task.waived, plan.switch.place)
    if changes:
        declared = replace(wiring, changes=changes)
        result = compare(with_wiring(task.spec, declared), [wiring.name])[0]
    if task.obstacles(result):
        raise AssertionError(f"the landing on {offer.name} does not check")
    asked = tuple(_asked(task, offer, landing))
    return FitAnswer(task, offer, landing, plan, result, found, asked=asked)


def _asked(task: SwitchTask, offer: Offer, landing: Landing) -> Iterator[tuple[str, Timing]]:
    """Timings that are not known and that matter, one section after the other.

    Whatever may stand either way without harm is left open while the next is tried.
    """
    sections = offer.switch.sections
    timings = list(landing.timings)
    for number, section in enumerate(sections):
        if section.timing_stated and section.timing != "unknown":
            continue
        either = [*timings[:number], "unknown", *timings[number + 1 :]]
        trial = replace(landing, timings=tuple(either))
        if not task.obstacles(compared(task, offer, trial)):
            timings = either
        elif landing.timings[number] != "unknown":
            yield section.pole or section.lugs[0], landing.timings[number]


def fit_all(task: SwitchTask, offers: Sequence[Offer], wish: FitOptions) -> Iterator[FitAnswer]:
    """Every offer; the same kind of switch is worked out once."""
    known: dict[object, FitAnswer] = {}
    for offer in offers:
        detents = tuple(detents_for(offer, len(task.demands), wish.order))
        used = without_idle_throws(task, offer, detents).switch
        key = (offer.plain is None, detents, used.terminals, used.sections)
        if key not in known:
            known[key] = fit_one(task, offer, wish)
        yield _as_of(known[key], offer)


def _as_of(answer: FitAnswer, offer: Offer) -> FitAnswer:
    """The answer for one switch of a kind: ratings and notes are its own."""
    if answer.landing is None or answer.plan is None:
        return replace(answer, offer=offer)
    plan = landing_plan(answer.task.bare, offer, answer.landing, answer.plan.switch.name)
    return rated(replace(answer, offer=offer, plan=plan))
