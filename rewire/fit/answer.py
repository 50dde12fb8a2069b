"""The answer for each switch: how it is landed, or what would be lost."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

from rewire.compare import Finding, Result, compare
from rewire.fit.build import Plan, free_name, plan_of, wiring_of, with_wiring
from rewire.fit.engine import Clock
from rewire.fit.landing import Landing
from rewire.fit.losing import Loss, least_loss
from rewire.fit.offers import Offer, Order, ways_to_serve
from rewire.fit.search import Found, Task, search
from rewire.fit.stubs import take_out
from rewire.fit.ties import demands_of
from rewire.spec.model import Spec, Switch, Timing


@dataclass(frozen=True)
class Wish:
    """How a switch may be used."""

    order: Order = "in-order"
    waived: frozenset[str] = frozenset()
    seconds: float | None = None


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
    proven: bool
    """The landing is the cheapest there is; without a landing: there is none."""
    least_jumpers: int
    loss: Loss | None = None
    asked: tuple[tuple[str, Timing], ...] = ()
    """Poles (or sections, by their first lug) whose timing the offer does not state, and which
    the landing needs so."""

    @property
    def feasible(self) -> bool:
        """Whether it can be landed."""
        return self.landing is not None

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
    if found.landing is not None:
        return _landed(task, offer, found)
    loss = least_loss(task, offer, ways) if found.proven else None
    return Answer(
        offer, _positions(task), None, None, None, found.proven, found.least_jumpers, loss
    )


def _landed(task: Task, offer: Offer, found: Found) -> Answer:
    assert found.landing is not None
    name = free_name(task.spec, task.bare.switch.name)
    plan = plan_of(task.bare, offer, found.landing, name)
    wiring = wiring_of(task.bare, plan, "fit")
    result = compare(with_wiring(task.spec, wiring), [wiring.name])[0]
    if task.obstacles(result):
        raise AssertionError(f"the landing on {offer.name} does not check")
    return Answer(
        offer, _positions(task), found.landing, plan, result, found.proven, found.least_jumpers,
        asked=tuple(_asked(offer, found.landing)),
    )  # fmt: skip


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


def fit_all(task: Task, offers: Sequence[Offer], wish: Wish) -> list[Answer]:
    """Every offer; the same kind of switch is worked out once."""
    known: dict[object, Answer] = {}
    answers = []
    for offer in offers:
        key = (offer.switch.form, offer.switch.terminals, offer.switch.sections)
        if key not in known:
            known[key] = fit(task, offer, wish)
        answers.append(replace(known[key], offer=offer))
    return answers
