"""The search: cheapest wiring first, each compared with the original before it counts.

The solver proposes, the comparison disposes: what it finds while switching comes
back as further clauses until a wiring is kept, or no wiring is left. Each round
adds demands that every good wiring meets, so a refusal is a proof, and so is the
price of the wiring that is kept.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from contextlib import suppress
from dataclasses import dataclass, field, replace
from itertools import combinations

from rewire.compare import Finding, Result, compare_wiring
from rewire.fit.clauses import Clauses, Clock, Engine, Literal, OutOfTime, Price
from rewire.fit.encoding import Connecting, Encoding, Landing, keep_apart, steps_needed
from rewire.fit.offers import (
    Offer,
    detents_for,
    in_order_of,
    keeps_neighbours,
    landing_compared,
    landing_plan,
    same_lugs,
    wiring_of,
    with_wiring,
)
from rewire.fit.task import SwitchTask, Wanted
from rewire.fit.while_switching import WAIVABLE, Switching

_PATIENCE = 300
"""Conflicts spent on one wish among wirings that cost the same."""
_EASED = 1.0
"""Seconds for each choice of faults that are let pass."""
_MOST_WISHES = 60
"""Wishes dropped at most before the wiring is left as it is."""


@dataclass(frozen=True)
class SearchResult:
    """What the search came to."""

    landing: Landing | None
    proven: bool = True
    """The wiring is the cheapest, or there is none; false if the time ran out."""
    least_jumpers: int = 0
    """No wiring has fewer."""
    at_rest: bool = True
    """Whether it could be wired, but for what happens while switching."""


@dataclass(frozen=True)
class Loss:
    """The best attempt where nothing fits."""

    landing: Landing
    result: Result
    connections: int
    """Lost connections, counted once per position; 0 if all are lost only while switching."""
    proven: bool
    """No attempt loses fewer; False where the time ran out before that was known."""


@dataclass(frozen=True)
class Eased:
    """A wiring that is right at rest, with few kinds of fault while switching."""

    kinds: tuple[str, ...]
    """What would have to be waived; ``rule`` cannot be."""
    loss: Loss


@dataclass(slots=True)
class LandingSearch:
    """One offer, one reading of its timings."""

    task: SwitchTask
    offer: Offer
    free: bool
    """Whether timings that are not stated, or not known, may be asked for as needed."""
    clock: Clock
    encoding: Encoding = field(init=False)
    switching: Switching = field(init=False)
    _judged: dict[Landing, bool] = field(init=False, default_factory=dict)
    _best: Landing | None = field(init=False, default=None)
    _least: int = field(init=False, default=0)

    def __post_init__(self) -> None:
        offer = self.offer.with_open_timings_non_shorting() if self.free else self.offer
        stubs = len(self.task.bare.stubs)
        self.encoding = Encoding(offer, stubs, detents_for(offer, self.task), Clauses(self.clock))
        self.encoding.allow_absorbing(self.task.demands)
        self.switching = Switching(self.task.bare, self.encoding)
        for section, literal in zip(
            self.offer.switch.sections, self.encoding.shorting, strict=True
        ):
            is_open = not section.timing_stated or section.timing == "unknown"
            if not (self.free and is_open):
                self.encoding.clauses.add(literal if section.timing == "shorting" else -literal)

    def ask_at_rest(self, loosely: bool = False) -> list[Literal]:
        """Ask for the connections at rest; if loosely, each may be given up: the prices of that."""
        encoding, prices = self.encoding, list[Literal]()
        for position, demand in enumerate(self.task.demands):
            if demand is None:
                continue
            closed = list(encoding.at_detent(position))
            keep_apart(encoding, closed, demand.may)
            for wanted in demand.wanted:
                goals = wanted.goals()
                blobs = [blob for goal in goals for blob in goal[1:]] if loosely else []
                given_up = {blob: encoding.clauses.new() for blob in blobs}
                prices += given_up.values()
                most = len(closed) // len(encoding.detents)
                most += min(len(encoding.absorbed), encoding.stubs)
                steps = most if loosely else steps_needed(encoding, position, goals)
                if not loosely:
                    self._has_a_lug(position, wanted)
                Connecting(encoding, closed, wanted.given, steps).connect(goals, given_up=given_up)
        return prices

    def _has_a_lug(self, position: int, wanted: Wanted) -> None:
        """Redundant, for speed: every stub to be connected needs a lug that is closed."""
        encoding = self.encoding
        lugs = sorted({lug for one in encoding.at_detent(position) for lug in one.lugs})
        for blob in (blob for goal in wanted.goals() for blob in goal):
            stubs = {stub for stub in range(encoding.stubs) if wanted.given[stub] == blob}
            here = [encoding.at[lug][stub] for lug in lugs for stub in stubs]
            shared = [v for pair, v in encoding.absorbed.items() if stubs & {*pair}]
            encoding.clauses.add(*here, *shared)

    def cheapest_at_rest(self) -> Landing | None:
        """A wiring with the fewest jumpers, whatever it does while switching."""
        self.ask_at_rest()
        with Engine(self.encoding.clauses) as engine:
            jumpers = Price(engine, self.encoding.jumpers())
            fewest = jumpers.least()
            if fewest < 0 or not engine.solve(jumpers.at_most(fewest)):
                return None
            return self.encoding.read(engine.model())

    def cheapest(self) -> SearchResult:
        """The wiring with the fewest connections, then jumpers, then poles in order."""
        self._best = None
        with Engine(self.encoding.clauses) as engine, suppress(OutOfTime):
            if not engine.solve():
                return SearchResult(None, at_rest=False)
            self._best = self._settle(engine, [])
            if self._best is None:
                return SearchResult(None)
            self._best, under = self._climb(engine)
            if self.free:
                self._fewest_shorting(engine, under)
            return SearchResult(self._best, True, self._best.jumpers)
        return SearchResult(self._best, proven=False, least_jumpers=self._least)

    def _climb(self, engine: Engine) -> tuple[Landing, list[Literal]]:
        """The first wiring that is kept as the price rises, and that price. There is one."""
        connections = Price(engine, self.encoding.landing_somewhere())
        jumpers = Price(engine, self.encoding.jumpers())
        landed, floor = self.floor()
        while True:
            landed = connections.least(floor=landed)
            within = connections.at_most(landed)
            self._least = jumpers.least(within, floor - landed)
            while self._least >= 0:
                under = [*within, *jumpers.at_most(self._least)]
                found = self._settle(engine, under)
                if found is not None:
                    return found, under
                self._least = jumpers.least(within, self._least + 1)
            landed += 1

    def needs(self) -> list[int]:
        """Per position the contacts that it takes: a group of n needs n - 1."""
        return [
            max((sum(len(g) - 1 for g in w.goals()) for w in demand.wanted), default=0)
            for demand in self.task.demands
            if demand is not None
        ]

    def floor(self) -> tuple[int, int]:
        """So many connections, and so many connections and jumpers, every wiring has.

        Stubs land that nothing else connects to what they need. A group of n that a position
        connects needs n - 1 contacts, each with a throw lug of its own; the commons must be
        as many as the contacts of the position that needs most. Every lug but one of each net
        is reached by a jumper. (A private net adds a net, and a contact wherever it is of use.)
        """
        alone = {
            stub
            for wanted in (w for demand in self.task.demands if demand for w in demand.wanted)
            for blob in (blob for goal in wanted.goals() for blob in goal)
            for stub, own in enumerate(wanted.given)
            if own == blob and wanted.given.count(blob) == 1
        }
        if self.encoding.absorbed or not self.offer.plain:
            return len(alone), len(alone)
        needs = self.needs()
        return len(alone), max(len(alone), sum(needs) + max(needs, default=0))

    def _fewest_shorting(self, engine: Engine, under: list[Literal]) -> None:
        price = Price(engine, self.encoding.shorting)
        while self._best and (count := self._best.timings.count("shorting")):
            better = self._settle(engine, [*under, *price.at_most(count - 1)])
            if better is None:
                return
            self._best = better

    def _settle(self, engine: Engine, under: Sequence[Literal]) -> Landing | None:
        """A wiring that is kept, under some assumptions; None if there is none.

        Solve, compare, add what was found, until one is kept or none is left.
        """
        while engine.solve(under):
            landing = self.polish(engine, self.encoding.read(engine.model()), under)
            if self._is_kept(landing):
                return landing
        return None

    def _is_kept(self, landing: Landing) -> bool:
        """Compare a wiring with the original; what stands in its way becomes clauses."""
        if landing not in self._judged:
            obstacles = list(self._obstacles(landing))
            self._judged[landing] = not obstacles
            for finding in obstacles:
                self.switching.rule_out(landing, finding, self.task.waived)
        return self._judged[landing]

    def _obstacles(self, landing: Landing) -> list[Finding]:
        task, offer = self.task, self.encoding.offer
        found = task.obstacles(landing_compared(task, offer, landing))
        wrong = [f.message for f in found if f.kind not in (*WAIVABLE, "rule")]
        if wrong:
            raise AssertionError(f"a landing that is not right at rest: {wrong[0]}")
        if found or keeps_neighbours(landing.detents):
            return found
        wiring = wiring_of(task.bare, landing_plan(task.bare, offer, landing, "new"), "fit")
        whole = with_wiring(task.spec, wiring)
        turned = in_order_of(whole, task.bare.switch.control, landing.detents)
        kinds = {*WAIVABLE} - task.waived
        findings = compare_wiring(turned, turned.wirings[wiring.name]).findings
        return [finding for finding in findings if finding.kind in kinds]

    def polish(self, engine: Engine, landing: Landing, under: Sequence[Literal]) -> Landing:
        """Of all wirings under some assumptions, one that is much as it was.

        All wishes at once; of those that cannot hold together the last is dropped, and so
        on. (That poles are used in order is among the clauses.)
        """
        wishes = list(self._wishes())
        for _ in range(_MOST_WISHES):
            if engine.solve([*under, *wishes], _PATIENCE):
                return self.encoding.read(engine.model())
            core = engine.core()
            against = [number for number, wish in enumerate(wishes) if wish in core]
            if against:
                del wishes[against[-1]]
            else:
                del wishes[len(wishes) // 2 :]
            if not wishes:
                break
        return landing

    def _wishes(self) -> Iterator[Literal]:
        """Every lug as it was, where the old switch had the same lug; else spare."""
        encoding, bare = self.encoding, self.task.bare
        same = same_lugs(bare.switch, encoding.offer.switch)
        was = {lug: n for n, stub in enumerate(bare.stubs) for lug in stub.lugs}
        yield encoding.served_by[0]
        for number, lug in enumerate(encoding.lugs):
            stub = was.get(same.get(lug, ""))
            yield -encoding.used[number] if stub is None else encoding.at[number][stub]
        yield from (-literal for literal in (*encoding.absorbed.values(), *encoding.shorting))


def search(task: SwitchTask, offer: Offer, clock: Clock) -> SearchResult:
    """The cheapest wiring of a task on an offer.

    Timings that the offer does not state are read as the format says first; if that
    leaves no wiring, as few of them as will do are asked to be shorting.
    """
    found = SearchResult(None)
    if len(offer.detents) < len(task.demands):
        return found
    offer = without_idle_throws(task, offer)
    for free in (False, True) if offer.open_timings else (False,):
        try:
            one = LandingSearch(task, offer, free, clock)
            one.ask_at_rest()
            found = one.cheapest()
        except OutOfTime:
            return SearchResult(None, proven=False)
        if found.landing is not None or not found.proven:
            return found
    return found


def without_idle_throws(task: SwitchTask, offer: Offer) -> Offer:
    """A plain form without the throws that serve no position.

    They could only hold stubs together that are always connected; where there are such
    stubs, every lug stays.
    """
    form, detents = offer.plain, detents_for(offer, task)
    if not form or form[1] == 1 or len(detents) != 1 or task.always_connected():
        return offer
    return offer.lesser(form[0], max(detents[0]) + 1)


def alternatives(task: SwitchTask, offer: Offer, clock: Clock, first: Landing) -> Iterator[Landing]:
    """Other wirings than the first, cheapest first, until there is none or the time is over.

    They differ in the nets of the lugs, not in the order of poles that are alike.
    """
    free = offer.open_timings and "shorting" in first.timings
    one = LandingSearch(task, offer, free, clock)
    one.ask_at_rest()
    landing: Landing | None = first
    while landing is not None:
        one.encoding.clauses.add(*one.switching.other_nets(landing))
        found = one.cheapest()
        landing = found.landing if found.proven else None
        if landing is not None:
            yield landing


def eased(task: SwitchTask, offer: Offer) -> Eased | None:
    """What fits if some kinds of fault while switching are let pass: few of them, a rule last.

    Kinds that are not decided within a second are passed over. None if nothing was found.
    """
    kinds = [kind for kind in WAIVABLE if kind not in task.waived]
    some = [few for count in range(len(kinds) + 1) for few in combinations(kinds, count)]
    for few in (*some[1:], *((*few, "rule") for few in some)):
        found = search(replace(task, waived=task.waived | {*few}), offer, Clock(_EASED))
        if found.landing is not None:
            result = landing_compared(task, offer, found.landing)
            return Eased(few, Loss(found.landing, result, 0, True))
    return None


def least_loss(task: SwitchTask, offer: Offer, clock: Clock) -> Loss | None:
    """The wiring that gives up the fewest connections, as far as the clock allows.

    What must be apart stays apart: a connection can be missed, a wrong one can kill.

    Returns:
        None if the detents are too few, or the clock ran out before there was any wiring.
    """
    if len(offer.detents) < len(task.demands):
        return None
    landing, count, proven = None, 1, False
    with suppress(OutOfTime):
        one = LandingSearch(task, offer, False, clock)
        prices = one.ask_at_rest(loosely=True)
        with Engine(one.encoding.clauses) as engine:
            price = Price(engine, prices)
            while count and engine.solve(price.at_most(count - 1) if landing else []):
                landing, count = one.encoding.read(engine.model()), price.of(engine.model())
            proven = True
            landing = landing and one.polish(engine, landing, price.at_most(count))
    if landing is None:
        return None
    return Loss(landing, landing_compared(task, one.encoding.offer, landing), count, proven)
