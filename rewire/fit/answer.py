"""The answer for each switch: how it is landed, or what would be lost."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from itertools import islice
from typing import TYPE_CHECKING

from rewire.compare import Finding, Result, compare
from rewire.fit.build import Plan, changes_for, free_name, plan_of, wiring_of, with_wiring
from rewire.fit.engine import Clock
from rewire.fit.landing import Landing
from rewire.fit.losing import Loss, least_loss
from rewire.fit.offers import Offer, Order, ways_to_serve
from rewire.fit.search import Found, Task, alternatives, search, without_idle_throws
from rewire.fit.stubs import take_out
from rewire.fit.ties import demands_of
from rewire.fit.ways_out import WaysOut, ways_out
from rewire.spec.model import Spec, Switch, Timing

if TYPE_CHECKING:
    from rewire.values.model import Caution


@dataclass(frozen=True)
class Wish:
    """How a switch may be used."""

    order: Order = "in-order"
    waived: frozenset[str] = frozenset()
    seconds: float | None = None
    count: int = 1


@dataclass(frozen=True)
class Answer:
    """What came of one offer."""

    offer: Offer
    controls: tuple[str, ...]
    """Positions of the control, in order of travel."""
    landing: Landing | None
    plan: Plan | None
    result: Result | None
    """The comparison of the landing, or of the best attempt."""
    found: Found
    loss: Loss | None = None
    ways_out: WaysOut | None = None
    others: tuple[tuple[Landing, Plan], ...] = ()
    """Further landings, cheapest first."""
    strains: tuple[Caution, ...] = ()
    """What its contacts break and carry, where that is beyond a rating, near it or unknown."""
    asked: tuple[tuple[str, Timing], ...] = ()
    """Poles (or sections, by their first lug) whose timing the offer does not state, and which
    the landing needs so."""

    @property
    def feasible(self) -> bool:
        """Whether it can be landed."""
        return self.landing is not None

    @property
    def proven(self) -> bool:
        """The landing is the cheapest there is; without a landing: there is none."""
        return self.found.proven

    @property
    def positions(self) -> list[tuple[str, int | str]]:
        """Per position of the control the throw that serves it, from 1; ``open`` for none."""
        found: list[tuple[str, int | str]] = []
        for position, detent in zip(
            self.controls, self.landing.way if self.landing else (), strict=False
        ):
            found.append((position, "open" if self.offer.detents[detent] == "open" else detent + 1))
        return found

    @property
    def lost(self) -> tuple[Finding, ...]:
        """What the best attempt loses."""
        return () if self.loss is None else lost_in(self.loss.result)


def lost_in(result: Result) -> tuple[Finding, ...]:
    """Connections that are gone, for good or for a moment."""
    kinds = ("dropped", "gap", "bridge", "interrupted", "stray", "rule")
    return tuple(f for f in result.findings if f.kind in kinds and not f.meant)


def task_of(spec: Spec, switch: Switch, wish: Wish) -> Task:
    """What is to be landed when a switch of the original goes.

    Raises:
        LimitReached: too many states of other controls bear on it.
    """
    bare = take_out(spec, switch)
    return Task(bare, demands_of(bare), wish.waived)


def fit(task: Task, offer: Offer, wish: Wish) -> Answer:
    """Land a task on one offer.

    Raises:
        LimitReached: the comparison of a landing is beyond its limits.
    """
    ways = ways_to_serve(offer, len(task.demands), wish.order)
    found = search(task, offer, ways, Clock(wish.seconds))
    if found.landing is None:
        return Answer(offer, _positions(task), None, None, None, found)
    return _landed(task, offer, found, found.landing)


def explained(task: Task, answer: Answer, wish: Wish) -> Answer:
    """An answer that says no, with what the best attempt loses and what might help."""
    if answer.feasible or not answer.proven:
        return answer
    ways = ways_to_serve(answer.offer, len(task.demands), wish.order)
    loss = least_loss(task, answer.offer, ways, Clock(wish.seconds))
    return replace(answer, loss=loss, ways_out=ways_out(task, answer.offer, wish.order))


def rated(task: Task, answer: Answer) -> Answer:
    """An answer that says yes, with what the ratings say to it."""
    from rewire.fit.ratings import strains

    return answer if answer.plan is None else replace(answer, strains=strains(task, answer.plan))


def with_others(task: Task, answer: Answer, wish: Wish) -> Answer:
    """An answer that says yes, with as many further landings as were asked for."""
    if answer.landing is None or answer.plan is None or wish.count == 1:
        return answer
    ways = ways_to_serve(answer.offer, len(task.demands), wish.order)
    found = alternatives(task, answer.offer, ways, Clock(wish.seconds), answer.landing)
    name = answer.plan.switch.name
    others = (
        (landing, plan_of(task.bare, answer.offer, landing, name))
        for landing in islice(found, wish.count - 1)
    )
    return replace(answer, others=tuple(others))


def ranked(answers: Sequence[Answer]) -> list[Answer]:
    """Those that fit first: within their ratings, as they are, with the fewest lugs to spare."""
    return sorted(answers, key=_rank)


def _rank(answer: Answer) -> tuple[object, ...]:
    if answer.landing is None:
        throws = len(answer.offer.detents) < len(answer.controls)
        return 1, throws, not answer.found.at_rest, len(answer.offer.switch.terminals)
    over = any(strain.bad for strain in answer.strains)
    spare = len(answer.landing.spare(answer.offer.switch.terminals))
    asked = any(timing == "shorting" for _, timing in answer.asked)
    return 0, over, asked, spare, *answer.landing.cost


def _landed(task: Task, offer: Offer, found: Found, landing: Landing) -> Answer:
    name = free_name(task.spec, task.bare.switch.name)
    plan = plan_of(task.bare, offer, landing, name)
    wiring = wiring_of(task.bare, plan, "fit")
    result = compare(with_wiring(task.spec, wiring), [wiring.name])[0]
    changes = changes_for(result.findings, task.waived, plan.switch.place)
    if changes:
        declared = replace(wiring, changes=changes)
        result = compare(with_wiring(task.spec, declared), [wiring.name])[0]
    if task.obstacles(result):
        raise AssertionError(f"the landing on {offer.name} does not check")
    asked = tuple(_asked(offer, landing))
    return Answer(offer, _positions(task), landing, plan, result, found, asked=asked)


def _positions(task: Task) -> tuple[str, ...]:
    return task.spec.controls[task.bare.switch.control].positions


def _asked(offer: Offer, landing: Landing) -> list[tuple[str, Timing]]:
    used = {lug for _, lugs in landing.nets for lug in lugs}
    found: list[tuple[str, Timing]] = []
    for section, timing in zip(offer.switch.sections, landing.timings, strict=True):
        is_open = not section.timing_stated or section.timing == "unknown"
        if is_open and timing != "unknown" and used & {*section.lugs}:
            found.append((section.pole or section.lugs[0], timing))
    shorting = any(timing == "shorting" for _, timing in found)
    unknown = any(section.timing == "unknown" for section in offer.switch.sections)
    return found if shorting or unknown else []


def fit_all(task: Task, offers: Sequence[Offer], wish: Wish) -> Iterator[Answer]:
    """Every offer; the same kind of switch is worked out once."""
    known: dict[object, Answer] = {}
    for offer in offers:
        ways = tuple(ways_to_serve(offer, len(task.demands), wish.order))
        used = without_idle_throws(task, offer, ways).switch
        key = (offer.plain is None, ways, used.terminals, used.sections)
        if key not in known:
            known[key] = fit(task, offer, wish)
        yield _as_of(task, known[key], offer)


def _as_of(task: Task, answer: Answer, offer: Offer) -> Answer:
    """The answer for one switch of a kind: ratings and notes are its own."""
    if answer.landing is None or answer.plan is None:
        return replace(answer, offer=offer)
    plan = plan_of(task.bare, offer, answer.landing, answer.plan.switch.name)
    return rated(task, replace(answer, offer=offer, plan=plan))
