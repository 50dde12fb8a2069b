"""The answer for each switch: how it is wired, or what would be lost."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence, Set
from dataclasses import dataclass, replace
from itertools import combinations, islice
from typing import TypeVar

from rewire.circuit import LimitReached
from rewire.compare import Finding, Result, compare, compare_wiring
from rewire.compare.findings import INFORMATION
from rewire.compare.mounting import Mounting, switch_mounted
from rewire.fit.clauses import Clock, OutOfTime
from rewire.fit.encoding import Detents, Landing, mapped
from rewire.fit.offers import (
    LandingPlan,
    Offer,
    changes_for,
    detents_for,
    free_name,
    landing_compared,
    landing_plan,
    offer_of_form,
    wiring_of,
    with_wiring,
)
from rewire.fit.search import (
    Eased,
    LandingSearch,
    Loss,
    SearchResult,
    alternatives,
    eased,
    least_loss,
    search,
    without_idle_throws,
)
from rewire.fit.task import Demand, SwitchTask, Wanted, demand_for, hardwired, joined
from rewire.reading.faults import SpecError
from rewire.records.part import Section, Timing
from rewire.records.spec import Net, Spec
from rewire.records.switches import Switch
from rewire.values.answers import Caution

_MOST_POLES = 12
_MOST_RELAY_POLES = 3
_MOST_PATTERNS = 40
_MOST_PAIRS = 200
_SECONDS = 5.0


Found = TypeVar("Found")


@dataclass(frozen=True)
class Shared:
    """Two points connected for good, and what is lost by it."""

    places: tuple[str, str]
    opened_at: tuple[str, ...]
    """Positions in which the original opens them, which nothing would do any more."""


@dataclass(frozen=True)
class WaysOut:
    """What would do instead. None or empty: it does not help, or took too long."""

    throws: int | None = None
    """So many throws are needed; None where they suffice."""
    poles: int | None = None
    """The fewest poles, with as many throws, that will do."""
    timing: tuple[tuple[str, str], ...] = ()
    """Per pole, or first lug of a section, the timing with which the same switch would do."""
    waive: tuple[str, ...] = ()
    """It fits if these are waived."""
    relay: tuple[int, tuple[str, ...]] | None = None
    """Changeover poles of a relay whose coil one pole works, and where it is pulled in.

    Without coil current it stands as in the other positions: those with fewer live points
    connected, and of two alike those that begin the travel.
    """
    combine: tuple[Shared, ...] = ()
    """Two points, connected for good, would save what is missing, at a price."""


def ways_out(task: SwitchTask, offer: Offer, eased: Eased | None = None) -> WaysOut:
    """Try what might help where an offer does not fit; ``eased`` is known already."""
    positions = len(task.demands)
    if len(offer.detents) < positions:
        return WaysOut(throws=positions)
    clock = Clock(_SECONDS)
    timing = _timing(task, offer, clock)
    waive = eased.kinds if eased and "rule" not in eased.kinds else ()
    if timing or waive:
        return WaysOut(timing=timing, waive=waive)
    return WaysOut(
        poles=_poles(task, offer, clock),
        relay=_relay(task, offer, Clock(_SECONDS)),
        combine=tuple(_combine(task, offer, Clock(_SECONDS))),
    )


def _timing(task: SwitchTask, offer: Offer, clock: Clock) -> tuple[tuple[str, str], ...]:
    """With which timings of its sections the same switch would do."""
    if offer.open_timings:
        return ()
    sections = tuple(
        replace(s, timing="non-shorting", timing_stated=False) for s in offer.switch.sections
    )
    free = replace(offer, switch=replace(offer.switch, sections=sections))
    landing = search(task, free, clock).landing
    pairs = zip(sections, landing.timings if landing else (), strict=False)
    return tuple((section.named, timing) for section, timing in pairs)


def _first_that_fits(
    trials: Iterable[tuple[Found, SwitchTask, Offer]], clock: Clock
) -> Found | None:
    """What stands beside the first trial that fits; None if none does, or the time ran out."""
    for what, task, offer in trials:
        found = search(task, offer, clock)
        if found.landing is not None:
            return what
        if not found.proven:
            return None
    return None


def _poles(task: SwitchTask, offer: Offer, clock: Clock) -> int | None:
    form = offer.plain
    if form is None:
        return None
    timings = {s.timing for s in offer.switch.sections if s.timing_stated}
    timing = timings.pop() if len(timings) == 1 and not offer.open_timings else None
    more = range(form[0] + 1, _MOST_POLES + 1)
    trials = ((poles, task, offer_of_form(f"{poles}P{form[1]}T", timing)) for poles in more)
    return _first_that_fits(trials, clock)


def _relay(task: SwitchTask, offer: Offer, clock: Clock) -> tuple[int, tuple[str, ...]] | None:
    """One pole works the coil of a relay, whose changeover contacts do the rest."""
    form = offer.plain
    if form is None or form[0] < 2:
        return None
    rest = offer.lesser(form[0] - 1, len(offer.detents))
    detents, patterns = detents_for(rest, task)[0], [*_patterns(len(task.demands))]
    trials = (
        ((poles, pulled), task, _with_relay(rest, detents, poles, pulled))
        for poles in range(1, _MOST_RELAY_POLES + 1)
        for pulled in patterns[:_MOST_PATTERNS]
    )
    found = _first_that_fits(trials, clock)
    if found is None:
        return None
    return found[0], tuple(task.positions[at] for at in _pulled_in(task, found[1]))


def _pulled_in(task: SwitchTask, pulled: tuple[int, ...]) -> tuple[int, ...]:
    """Positions with the coil on, so that losing its supply leaves the safer ones.

    A changeover contact serves either way round: the coil may be on at some positions or at
    all the others.
    """
    others = tuple(at for at in range(len(task.demands)) if at not in pulled)
    rests = sorted((pulled, others), key=lambda some: (_live_at(task, some), min(some)))
    return others if rests[0] == pulled else pulled


def _live_at(task: SwitchTask, positions: Sequence[int]) -> int:
    """The most live points that the switch connects to anything at any of some positions."""
    live = {n for n, stub in enumerate(task.bare.stubs) if _is_live(task.spec, stub.members)}
    wholes = (w.whole for at in positions if (d := task.demands[at]) for w in d.seen)
    return max((sum(w.count(w[stub]) > 1 for stub in live) for w in wholes), default=0)


def _is_live(spec: Spec, names: Iterable[str]) -> bool:
    points = (spec.points[name] for name in names if name in spec.points)
    return any(point.volts or point.rises_to for point in points)


def _patterns(positions: int) -> Iterator[tuple[int, ...]]:
    """Positions at which a relay may be pulled in; the complement only exchanges its contacts."""
    for count in range(1, positions // 2 + 1):
        for some in combinations(range(positions), count):
            if 2 * count < positions or some[0] == 0:
                yield some


def _with_relay(offer: Offer, detents: Detents, poles: int, pulled: Sequence[int]) -> Offer:
    """A table: some poles as they answer to the positions, and a relay's beside them."""
    sections = [mapped(section, detents) for section in offer.switch.sections]
    lugs = list(offer.switch.terminals)
    for pole in range(1, poles + 1):
        common, rest, made = (f"relay{pole}_{word}" for word in ("common", "rest", "made"))
        groups = tuple(((common, made if at in pulled else rest),) for at in range(len(detents)))
        lugs += [common, rest, made]
        sections.append(
            Section((common, rest, made), groups, "non-shorting", timing_stated=True, pole=None)
        )
    plain: Switch = replace(offer.switch, form="table", throws=None, poles=())
    switch = replace(plain, terminals=tuple(lugs), sections=tuple(sections))
    return Offer(offer.name, switch, tuple(map(str, range(len(detents)))))


def _combine(task: SwitchTask, offer: Offer, clock: Clock) -> Iterator[Shared]:
    """Pairs of stubs that make it fit if connected for good, and endanger nobody."""
    stubs = task.bare.stubs
    pairs = [p for p in combinations(range(len(stubs)), 2) if _may_join(task, *p)]
    for one, other in pairs[:_MOST_PAIRS]:
        eased = replace(task, demands=tuple(_with_pair_joined(d, one, other) for d in task.demands))
        try:
            trial = LandingSearch(eased, offer, False, clock)
            landing = trial.cheapest_at_rest()
        except OutOfTime:
            return
        if landing is not None and _is_good(task, offer, landing, one, other):
            pairs_at = zip(task.positions, task.demands, strict=True)
            opened = tuple(name for name, d in pairs_at if d and d.may[one] != d.may[other])
            yield Shared((stubs[one].ends[0], stubs[other].ends[0]), opened)


def _may_join(task: SwitchTask, one: int, other: int) -> bool:
    """Whether in every state one of the two is connected to nothing but the other.

    Not where either is the chassis or has volts: what the original opens there may be a
    supply, a bleeder or a mute.
    """
    members = {*task.bare.stubs[one].members, *task.bare.stubs[other].members}
    if _is_live_or_chassis(task.spec, members):
        return False
    apart = False
    for wanted in (w for demand in task.demands if demand for w in demand.seen):
        mine, theirs = wanted.whole[one], wanted.whole[other]
        if mine == theirs:
            continue
        apart = True
        if wanted.whole.count(mine) > 1 and wanted.whole.count(theirs) > 1:
            return False
    return apart


def _with_pair_joined(demand: Demand | None, one: int, other: int) -> Demand | None:
    """The same with two stubs connected from the start."""
    if demand is None:
        return None
    stubs = range(len(demand.may))
    pair = tuple(one if stub == other else stub for stub in stubs)
    seen = tuple(Wanted(joined(w.given, pair), joined(w.whole, pair)) for w in demand.seen)
    return demand_for(seen, len(stubs))


def _is_good(task: SwitchTask, offer: Offer, landing: Landing, one: int, other: int) -> bool:
    """Whether the comparison finds only that the two are joined, and no rule broken."""
    stubs = task.bare.stubs
    plan = landing_plan(task.bare, offer, landing, "new")
    wiring = wiring_of(task.bare, plan, "fit")
    ends = (stubs[one].ends[0], stubs[other].ends[0])
    wiring = replace(wiring, nets=(*wiring.nets, Net(None, ends, plan.switch.place)))
    pair = [set(stubs[one].members), set(stubs[other].members)]
    for finding in compare_wiring(task.spec, wiring).findings:
        if finding.kind in INFORMATION or finding.kind in task.waived:
            continue
        about = {name for group in finding.groups for name in group}
        meant = finding.kind == "joined" and all(about & side for side in pair)
        if not meant and not task.is_own(finding):
            return False
        if _is_live_or_chassis(task.spec, {*about, *(one.place for one in finding.company)}):
            return False
    return True


def _is_live_or_chassis(spec: Spec, names: Set[str]) -> bool:
    return _is_live(spec, names) or any(spec.points[n].chassis for n in names & {*spec.points})


@dataclass(frozen=True)
class FitAnswer:
    """What came of one offer."""

    task: SwitchTask
    """What was wired; with the plain wires that it takes."""
    offer: Offer
    found: SearchResult
    plan: LandingPlan | None = None
    result: Result | None = None
    """The comparison of the wiring."""
    loss: Loss | None = None
    ways_out: WaysOut | None = None
    others: tuple[tuple[Landing, LandingPlan], ...] = ()
    """Further wirings, cheapest first."""
    strains: tuple[Caution, ...] = ()
    """What its contacts break and carry, where that is beyond a rating, near it or unknown."""
    asked: tuple[tuple[str, Timing], ...] = ()
    """Poles (or sections, by their first lug) whose timing is not known, and the timing without
    which the wiring is not right. Empty: it is right whatever those timings are."""

    @property
    def landing(self) -> Landing | None:
        """How it is wired, if it can be."""
        return self.found.landing

    @property
    def feasible(self) -> bool:
        """Whether it can be wired."""
        return self.landing is not None

    @property
    def settled(self) -> bool:
        """Whether it fits as it is known: no timing has to be found out first."""
        return self.feasible and not self.asked

    @property
    def proven(self) -> bool:
        """The wiring is the cheapest there is; without a wiring: there is none."""
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
    def mounting(self) -> Mounting | None:
        """Whether it goes into the panel; None where nothing is known of that."""
        if self.landing is None or self.plan is None:
            return None
        old = self.task.bare.switch
        return switch_mounted(self.task.spec, old, self.plan.switch, self.landing.detents)

    @property
    def lost(self) -> tuple[Finding, ...]:
        """What the best attempt loses."""
        findings = () if self.loss is None else self.loss.result.findings
        kinds = {"dropped", "gap", "bridge", "interrupted", "stray", "rule"} - self.task.waived
        return tuple(f for f in findings if f.kind in kinds and not f.meant)


def fit_one(task: SwitchTask, offer: Offer, seconds: float | None = None) -> FitAnswer:
    """Wire a task to one offer.

    Raises:
        LimitReached: the comparison of a wiring is beyond its limits.
    """
    clock = Clock(seconds)
    found = search(task, offer, clock)
    if found.landing is None and found.proven and len(offer.detents) >= len(task.demands):
        task, found = _with_plain_wires(task, found, offer, clock)
    if found.landing is None:
        return FitAnswer(task, offer, found)
    return _landed(task, offer, found, found.landing)


def _with_plain_wires(
    task: SwitchTask, refused: SearchResult, offer: Offer, clock: Clock
) -> tuple[SwitchTask, SearchResult]:
    """Land it with the fewest plain wires past the switch that will do; else the refusal stands."""
    pairs = task.always_connected()
    wired = hardwired(task, pairs)
    found = search(wired, offer, clock) if pairs else refused
    if found.landing is None:
        return (task, refused) if found.proven else (task, found)
    for pair in pairs:
        fewer = hardwired(task, [one for one in wired.hardwired if one != pair])
        again = search(fewer, offer, clock) if fewer.hardwired else refused
        if again.landing is not None:
            wired, found = fewer, again
    return wired, found


def explained(answer: FitAnswer, seconds: float | None) -> FitAnswer:
    """A refusal with what the best attempt loses and what might help."""
    if answer.feasible or not answer.proven:
        return answer
    task = answer.task
    known = eased(task, answer.offer) if answer.found.at_rest else None
    loss = known.loss if known else least_loss(task, answer.offer, Clock(seconds))
    return replace(answer, loss=loss, ways_out=ways_out(task, answer.offer, known))


def rated(answer: FitAnswer) -> FitAnswer:
    """A wiring with what its contacts break and carry against their ratings.

    What is unknown says so.
    """
    from rewire.values.ratings import contact_warnings
    from rewire.values.solved import solved_of

    if answer.plan is None:
        return answer
    name = answer.plan.switch.name
    wiring = wiring_of(answer.task.bare, answer.plan, "fit")
    try:
        worked = solved_of(with_wiring(answer.task.spec, wiring), wiring)
    except (LimitReached, SpecError) as error:
        unchecked = Caution("limit", f"ratings not checked: {error}", False, name)
        return replace(answer, strains=(unchecked,))
    found = contact_warnings(worked)
    return replace(answer, strains=tuple(one for one in found if one.part == name))


def with_others(answer: FitAnswer, count: int, seconds: float | None) -> FitAnswer:
    """A wiring with as many further ones as were asked for."""
    if answer.landing is None or answer.plan is None or count == 1:
        return answer
    task = answer.task
    found = alternatives(task, answer.offer, Clock(seconds), answer.landing)
    name = answer.plan.switch.name
    others = (
        (landing, landing_plan(task.bare, answer.offer, landing, name))
        for landing in islice(found, count - 1)
    )
    return replace(answer, others=tuple(others))


def ranked(answers: Sequence[FitAnswer]) -> list[FitAnswer]:
    """Those that fit first: within ratings, timing known, few lugs spare, least panel work."""
    return sorted(answers, key=_rank)


def _rank(answer: FitAnswer) -> tuple[object, ...]:
    if answer.landing is None:
        throws = len(answer.offer.detents) < len(answer.task.positions)
        return 1, throws, not answer.found.at_rest, len(answer.offer.switch.terminals)
    over = any(strain.bad for strain in answer.strains)
    spare = len(answer.landing.spare(answer.offer.switch.terminals))
    panel = answer.mounting.cost if answer.mounting else ()
    return 0, over, not answer.settled, spare, *answer.landing.cost, *panel


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
    return FitAnswer(task, offer, found, plan, result, asked=asked)


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
        if not task.obstacles(landing_compared(task, offer, trial)):
            timings = either
        elif landing.timings[number] != "unknown":
            yield section.named, landing.timings[number]


def fit_all(
    task: SwitchTask, offers: Sequence[Offer], seconds: float | None
) -> Iterator[FitAnswer]:
    """Every offer; the same kind of switch is worked out once."""
    known: dict[object, FitAnswer] = {}
    for offer in offers:
        detents = tuple(detents_for(offer, task))
        used = without_idle_throws(task, offer).switch
        key = (offer.plain is None, detents, used.terminals, used.sections)
        if key not in known:
            known[key] = fit_one(task, offer, seconds)
        yield _as_of(known[key], offer)


def _as_of(answer: FitAnswer, offer: Offer) -> FitAnswer:
    """The answer for one switch of a kind: ratings and notes are its own."""
    if answer.landing is None or answer.plan is None:
        return replace(answer, offer=offer)
    plan = landing_plan(answer.task.bare, offer, answer.landing, answer.plan.switch.name)
    return rated(replace(answer, offer=offer, plan=plan))
