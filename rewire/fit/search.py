"""The search: cheapest landing first, each compared with the original before it counts.

The solver proposes, the comparison disposes: what it finds while switching comes
back as further clauses until a landing is kept, or no landing is left. Each round
adds demands that every good landing meets, so a refusal is a proof, and so is the
price of the landing that is kept.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, field, replace
from functools import cached_property

from rewire.compare import Finding, Result
from rewire.compare.comparing import compare_wiring
from rewire.compare.findings import INFORMATION
from rewire.fit.build import plan_of, wiring_of, with_wiring
from rewire.fit.clauses import Clauses, Literal
from rewire.fit.clock import Clock, OutOfTime
from rewire.fit.encode import Board, Closed, Paint, Reach, steps_needed
from rewire.fit.engine import GLANCE, Engine, Price
from rewire.fit.knob import in_order_of, keeps_neighbours
from rewire.fit.landing import Landing
from rewire.fit.moments import Moments
from rewire.fit.offers import Detents, Offer
from rewire.fit.stubs import Bare, twins
from rewire.fit.ties import Demand, Wanted
from rewire.records.spec import Spec, Wiring

WAIVABLE = ("gap", "bridge", "interrupted", "stray")
_TRIAL = "fit"
_PATIENCE = 300
"""Conflicts spent on one wish among landings that cost the same."""
_LONG_LOOK = 20_000
"""Conflicts spent on whether there is any landing at all."""
_MOST_WISHES = 60
"""Times that wishes are dropped before the landing is left as it is."""


@dataclass(frozen=True)
class Task:
    """What is to be landed."""

    bare: Bare
    demands: tuple[Demand | None, ...]
    waived: frozenset[str] = frozenset()
    hardwired: tuple[tuple[str, str], ...] = ()
    """Pairs of places that a plain wire joins, past the switch."""

    @property
    def spec(self) -> Spec:
        """The spec it is about."""
        return self.bare.spec

    @cached_property
    def has_always_tied(self) -> bool:
        """Whether two stubs are tied in every state."""
        labels = [demand.may for demand in self.demands if demand is not None]
        keys = list(zip(*labels, strict=True))
        return len(set(keys)) < len(keys)

    @cached_property
    def own_faults(self) -> Mapping[int, frozenset[object]]:
        """Rules that the original itself breaks, and where."""
        same = replace(self.spec.original, name=_TRIAL, changes=())
        found = compare_wiring(self.spec, same).findings
        broken = (f for f in found if f.kind == "rule" and f.rule is not None)
        return {f.rule: frozenset((*f.states, *f.steps)) for f in broken if f.rule is not None}

    def obstacles(self, result: Result) -> list[Finding]:
        """What of a comparison stands in the way."""
        found = (f for f in result.findings if f.kind not in INFORMATION)
        return [f for f in found if f.kind not in self.waived and not self.is_own(f)]

    def is_own(self, finding: Finding) -> bool:
        """Whether the original itself breaks the rule, wherever the finding says."""
        if finding.kind != "rule" or finding.rule is None:
            return False
        where = {*finding.states, *finding.steps}
        return where <= self.own_faults.get(finding.rule, frozenset())


@dataclass(frozen=True)
class Found:
    """What the search came to."""

    landing: Landing | None
    proven: bool = True
    """The landing is the cheapest, or there is none; false if the time ran out."""
    least_jumpers: int = 0
    """No landing has fewer."""
    at_rest: bool = True
    """Whether it could be landed, but for what happens while switching."""


@dataclass(slots=True)
class Bounds:
    """What a landing may cost at most, as it rises."""

    connections: Price
    jumpers: Price
    floor: tuple[int, int]
    """So many connections, and connections and jumpers together, every landing has."""
    connections_at: int = 0
    jumpers_at: int = 0

    def begin(self, hints: Sequence[Sequence[Literal]]) -> bool:
        """Start with the least at rest; false if nothing can be landed."""
        self.connections_at = self.connections.least([], self.floor[0], hints)
        if self.connections_at >= 0:
            self._fewest_jumpers(hints)
        return self.connections_at >= 0

    def under(self) -> list[Literal]:
        """What is to be assumed."""
        most = self.connections.at_most(self.connections_at)
        return [*most, *self.jumpers.at_most(self.jumpers_at)]

    def rise(self, core: set[Literal], hints: Sequence[Sequence[Literal]]) -> bool:
        """Allow one more of what stood in the way; false if neither did."""
        if core & {*self.jumpers.at_most(self.jumpers_at)}:
            self.jumpers_at += 1
            return True
        if core & {*self.connections.at_most(self.connections_at)}:
            self.connections_at += 1
            self._fewest_jumpers(hints)
            return True
        return False

    def _fewest_jumpers(self, hints: Sequence[Sequence[Literal]]) -> None:
        under = self.connections.at_most(self.connections_at)
        least = self.floor[1] - self.connections_at
        self.jumpers_at = self.jumpers.least(under, least, hints)


@dataclass(slots=True)
class Search:
    """One offer, one reading of its timings."""

    task: Task
    offer: Offer
    ways: Sequence[Detents]
    free: bool
    """Whether timings that are not stated, or not known, may be asked for as needed."""
    clock: Clock
    board: Board = field(init=False)
    moments: Moments = field(init=False)
    _judged: dict[Landing, bool] = field(init=False, default_factory=dict)
    _best: Landing | None = field(init=False, default=None)
    _least: int = field(init=False, default=0)

    def __post_init__(self) -> None:
        offer = _with_free_timings(self.offer) if self.free else self.offer
        clauses = Clauses(clock=self.clock)
        self.board = Board(offer, len(self.task.bare.stubs), self.ways, clauses)
        self.board.allow_absorbing(self.task.demands)
        self.moments = Moments(self.task.bare, self.board)
        self._fix_timings()

    def _fix_timings(self) -> None:
        sections = zip(self.offer.switch.sections, self.board.shorting, strict=True)
        for section, literal in sections:
            is_open = not section.timing_stated or section.timing == "unknown"
            if not (self.free and is_open):
                self.board.clauses.add(literal if section.timing == "shorting" else -literal)

    def ask_at_rest(self) -> None:
        """Put the ties at rest to the solver."""
        for position, demand in enumerate(self.task.demands):
            if demand is None:
                continue
            closed = list(self.board.at_detent(position))
            Paint(self.board, closed).apart(demand.may)
            for wanted in demand.wanted:
                goals = wanted.goals()
                by_way = [
                    [c for c in closed if not c.only_if or way in c.only_if]
                    for way in self.board.way
                ]
                steps = steps_needed(self.board, by_way, goals)
                self._at_hand(closed, wanted, goals)
                Reach(self.board, closed, wanted.given, steps).tied(goals)

    def _at_hand(
        self, closed: Sequence[Closed], wanted: Wanted, goals: list[tuple[int, ...]]
    ) -> None:
        """Follows from the rest, but seen sooner: what is to be tied has a lug that is closed."""
        board = self.board
        lugs = sorted({lug for one in closed for lug in one.lugs})
        for blob in (blob for goal in goals for blob in goal):
            stubs = [stub for stub in range(board.stubs) if wanted.given[stub] == blob]
            here = [board.stub_at[lug][stub] for lug in lugs for stub in stubs]
            shared = [v for pair, v in board.absorbed.items() if {*pair} & {*stubs}]
            board.clauses.add(*here, *shared)

    def cheapest(self, known: Landing | None = None) -> Found:
        """The landing with the fewest connections, then jumpers, then poles in order.

        Args:
            known: one that is kept, to begin with.
        """
        self._best = known
        with Engine(self.board, self.clock) as engine:
            try:
                return self._cheapest(engine)
            except OutOfTime:
                return Found(self._best, proven=False, least_jumpers=self._least)

    def _cheapest(self, engine: Engine) -> Found:
        hints = list(self._hints())
        bounds = Bounds(
            Price(engine, self._landing_somewhere()), Price(engine, self.jumpers()), self.floor()
        )
        if self._best is not None:
            hints.insert(0, list(self._true(self._best)))
        elif self.clock.seconds is not None:
            self._best = self._settle_soon(engine, [], hints)
        if not bounds.begin(hints):
            return Found(None, at_rest=False)
        best = self._climb(engine, bounds, hints)
        if best is None:
            return Found(None)
        self._best = best
        if self.free:
            best = self._fewest_shorting(engine, best, bounds.under())
        return Found(best, True, best.jumpers)

    def _climb(
        self, engine: Engine, bounds: Bounds, hints: Sequence[Sequence[Literal]]
    ) -> Landing | None:
        """The first landing that is kept while the bounds rise; None if there is none at all."""
        probed = False
        while True:
            self._least = bounds.jumpers_at
            best = self._settle_soon(engine, bounds.under(), hints)
            if best is not None:
                return best
            core = engine.core()
            if not probed and self._is_hopeless(engine):
                return None
            probed = True
            if not bounds.rise(core, hints):
                return None

    def _is_hopeless(self, engine: Engine) -> bool:
        """Whether there is no landing at whatever price, as far as a while of looking tells."""
        found = self._settle(engine, [], _LONG_LOOK)
        if found is not None:
            self._best = found
        return found is None and not engine.undecided

    def _hints(self) -> Iterator[list[Literal]]:
        """Where to look first: as it was, then on few poles, all without private nets."""
        board = self.board
        yield list(self._wishes())
        plainly = [-firsts[lug] for lug, firsts in enumerate(board.private_at) if lug in firsts]
        poles = board.offer.switch.poles
        for count in range(max(self._needs(), default=1), len(poles)):
            free = [-board.used[board.number[lug]] for pole in poles[count:] for lug in pole]
            yield [*plainly, *free]
        yield plainly

    def _needs(self) -> list[int]:
        """Per position the contacts that it takes: a group of n needs n - 1."""
        return [
            max((sum(len(g) - 1 for g in w.goals()) for w in demand.wanted), default=0)
            for demand in self.task.demands
            if demand is not None
        ]

    def _must_land(self) -> int:
        """So many stubs land in every landing: those that nothing else ties to what they need."""
        alone: set[int] = set()
        for wanted in (w for demand in self.task.demands if demand for w in demand.wanted):
            blobs = {blob for goal in wanted.goals() for blob in goal}
            alone |= {
                stub
                for stub, blob in enumerate(wanted.given)
                if blob in blobs and wanted.given.count(blob) == 1
            }
        return len(alone)

    def least_poles(self) -> int:
        """No landing uses fewer."""
        return max(self._needs(), default=1) or 1

    def floor(self) -> tuple[int, int]:
        """So many connections, and so many connections and jumpers, every landing has.

        A group of n that a position ties needs n - 1 contacts, each with a throw lug of
        its own; the commons must be as many as the contacts of the position that needs
        most. Every lug but one of each net is reached by a jumper. (A private net adds a
        net, and a contact wherever it is of use.)
        """
        board = self.board
        if board.absorbed or not board.offer.plain:
            return self._must_land(), self._must_land()
        needs = self._needs()
        return self._must_land(), max(self._must_land(), sum(needs) + max(needs, default=0))

    def _fewest_shorting(self, engine: Engine, best: Landing, fixed: list[Literal]) -> Landing:
        price = Price(engine, self.board.shorting)
        while count := best.timings.count("shorting"):
            better = self._settle(engine, [*fixed, *price.at_most(count - 1)])
            if better is None:
                return best
            best = self._best = better
        return best

    def _settle_soon(
        self, engine: Engine, under: list[Literal], hints: Sequence[Sequence[Literal]]
    ) -> Landing | None:
        """As ``_settle``, with a glance at each hint first."""
        for hint in hints:
            best = self._settle(engine, [*under, *hint], GLANCE)
            if best is not None:
                return best
        return self._settle(engine, under)

    def _settle(
        self, engine: Engine, under: Sequence[Literal], patience: int | None = None
    ) -> Landing | None:
        """A landing that is kept, under some assumptions; None if there is none.

        Solve, compare, add what was found, until one is kept or none is left. With
        ``patience``, so many conflicts without an answer count as none.
        """
        while engine.solve(under, patience):
            landing = self.board.read(engine.model())
            if under:
                landing = self.polish(engine, landing, under)
            if self.is_kept(landing):
                return landing
        return None

    def is_kept(self, landing: Landing) -> bool:
        """Compare a landing with the original; what stands in its way becomes clauses."""
        if landing in self._judged:
            return self._judged[landing]
        plan = plan_of(self.task.bare, self.board.offer, landing, "new")
        wiring = wiring_of(self.task.bare, plan, _TRIAL)
        result = compare_wiring(self.task.spec, wiring)
        obstacles = self.task.obstacles(result)
        if not obstacles and not keeps_neighbours(landing.way):
            obstacles = self._on_another_knob(landing, wiring)
        self._judged[landing] = not obstacles
        for finding in obstacles:
            if finding.kind not in (*WAIVABLE, "rule"):
                raise AssertionError(f"a landing that is not right at rest: {finding.message}")
            self.moments.rule_out(landing, finding, self.task.waived)
        return not obstacles

    def _on_another_knob(self, landing: Landing, wiring: Wiring) -> list[Finding]:
        """What stands in the way between detents that are neighbours now and were not."""
        control = self.task.bare.switch.control
        whole = with_wiring(self.task.spec, wiring)
        turned = in_order_of(whole, control, landing.way)
        found = compare_wiring(turned, turned.wirings[wiring.name]).findings
        kinds = frozenset(WAIVABLE) - self.task.waived
        return [finding for finding in found if finding.kind in kinds]

    def _landing_somewhere(self) -> list[Literal]:
        return [*self.board.lands, *self.board.absorbed.values()]

    _jumper_literals: list[Literal] = field(init=False, default_factory=list)

    def jumpers(self) -> list[Literal]:
        """One literal for each lug beyond the first of its net."""
        if self._jumper_literals:
            return self._jumper_literals
        board = self.board
        found = list(board.behind)
        beyond: list[list[Literal]] = [[] for _ in board.lugs]
        for stub in range(board.stubs):
            literals = [of_lug[stub] for of_lug in board.stub_at]
            most = self._usual_lugs(stub)
            counts, overs = _counted(board, literals, most)
            found += counts
            for lug, over in overs:
                beyond[lug].append(over)
        found += [board.clauses.is_any(literals) for literals in beyond if literals]
        self._jumper_literals = found
        return found

    def _usual_lugs(self, stub: int) -> int:
        """So many lugs a stub may need at rest; more are counted one by one."""
        total = 0
        for demand in self.task.demands:
            for wanted in demand.wanted if demand else ():
                goals = (goal for goal in wanted.goals() if wanted.given[stub] in goal)
                total += sum(len(goal) - 1 for goal in goals)
        return max(2, min(total, len(self.board.lugs)))

    def polish(self, engine: Engine, landing: Landing, under: Sequence[Literal]) -> Landing:
        """Of all landings under some assumptions, one that is much as it was.

        All wishes at once; of those that cannot hold together the last is dropped, and so
        on. (That poles are used in order is among the clauses.)
        """
        wishes = list(self._wishes())
        for _ in range(_MOST_WISHES):
            if engine.solve([*under, *wishes], _PATIENCE):
                return self.board.read(engine.model())
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
        """How it was, lug by lug, as far as the old switch had the same lug; else spare."""
        board = self.board
        yield board.way[0]
        for lug, stub in enumerate(self._as_it_was()):
            yield -board.used[lug] if stub is None else board.stub_at[lug][stub]
        yield from (-literal for literal in (*board.absorbed.values(), *board.shorting))

    def _as_it_was(self) -> Iterator[int | None]:
        """Per lug the stub that the same lug of the old switch was on."""
        new = self.board.offer.switch
        same = twins(self.task.bare.switch, new)
        was = {lug: n for n, stub in enumerate(self.task.bare.stubs) for lug in stub.lugs}
        yield from (was.get(same.get(lug, "")) for lug in new.terminals)

    def _true(self, landing: Landing) -> set[Literal]:
        """Of all that can be decided, what holds in a landing."""
        board = self.board
        true = {board.way[board.ways.index(landing.way)]}
        spare = set(range(len(board.lugs)))
        for stubs, lugs in landing.nets:
            for lug in (board.number[lug] for lug in lugs):
                spare.discard(lug)
                first = board.number[lugs[0]]
                true.add(board.stub_at[lug][stubs[0]] if stubs else board.private_at[lug][first])
            true |= {board.absorbed[stubs[0], other] for other in stubs[1:]}
        true |= {-board.used[lug] for lug in spare}
        true |= {-v for v in board.absorbed.values() if v not in true}
        shorting = zip(board.shorting, landing.timings, strict=True)
        return true | {v if timing == "shorting" else -v for v, timing in shorting}


def _counted(
    board: Board, literals: Sequence[Literal], most: int
) -> tuple[list[Literal], list[tuple[int, Literal]]]:
    """Count lugs of one stub from the second on; per lug whether it comes after ``most``."""
    clauses = board.clauses
    before: list[Literal] = []
    overs: list[tuple[int, Literal]] = []
    for lug, literal in enumerate(literals):
        if len(before) == most:
            over = clauses.new()
            clauses.add(-literal, -before[-1], over)
            overs.append((lug, over))
        after = [clauses.new() for _ in range(min(len(before) + 1, most))]
        for number, variable in enumerate(after):
            if number < len(before):
                clauses.implies(before[number], variable)
            if number == 0:
                clauses.implies(literal, variable)
            else:
                clauses.add(-literal, -before[number - 1], variable)
        before = after
    return before[1:], overs


def _with_free_timings(offer: Offer) -> Offer:
    """What is not stated, or not known, as non-shorting until it is asked for otherwise."""
    sections = tuple(
        replace(s, timing="non-shorting") if s.timing == "unknown" else s
        for s in offer.switch.sections
    )
    return replace(offer, switch=replace(offer.switch, sections=sections))


def search(task: Task, offer: Offer, ways: Sequence[Detents], clock: Clock) -> Found:
    """The cheapest landing of a task on an offer.

    Timings that the offer does not state are read as the format says first; if that
    leaves no landing, as few of them as will do are asked to be shorting.
    """
    found = Found(None)
    if not ways:
        return found
    offer = without_idle_throws(task, offer, ways)
    for free in (False, True) if offer.open_timings else (False,):
        try:
            found = _on_fewer_poles(task, offer, ways, free, clock)
        except OutOfTime:
            return Found(None, proven=False)
        if found.landing is not None or not found.proven:
            return found
    return found


def _on_fewer_poles(
    task: Task, offer: Offer, ways: Sequence[Detents], free: bool, clock: Clock
) -> Found:
    """Search on as few poles as will do; what costs the least there is costs it on all, too."""
    best: Found | None = None
    whole = Search(task, offer, ways, free, clock)
    for poles in range(whole.least_poles(), len(offer.switch.poles)):
        some = Search(task, offer.first_poles(poles), ways, free, clock)
        some.ask_at_rest()
        found = some.cheapest()
        if found.landing is not None:
            best = replace(found, landing=_on_all(found.landing, offer))
            landed, floor = whole.floor()
            if found.landing.cost == (landed, floor - landed):
                return best
            if not found.proven:
                return replace(best, least_jumpers=max(0, floor - found.landing.connections))
            break
        if not found.proven:
            return found
    whole.ask_at_rest()
    return whole.cheapest(best.landing if best else None)


def without_idle_throws(task: Task, offer: Offer, ways: Sequence[Detents]) -> Offer:
    """A plain form without the throws that serve no position.

    They could only hold stubs together that are always tied; where there are such
    stubs, every lug stays.
    """
    form = offer.plain
    if not form or form[1] == 1 or len(ways) != 1 or task.has_always_tied:
        return offer
    return offer.first_throws(max(ways[0]) + 1)


def _on_all(landing: Landing, offer: Offer) -> Landing:
    """A landing on the first poles of an offer, as one on the offer."""
    more = offer.switch.sections[len(landing.timings) :]
    timings = (section.timing for section in more)
    return replace(landing, timings=(*landing.timings, *timings))


def alternatives(
    task: Task, offer: Offer, ways: Sequence[Detents], clock: Clock, first: Landing
) -> Iterator[Landing]:
    """Other landings than the first, cheapest first, until there is none or the time is over.

    They differ in the nets of the lugs, not in the order of poles that are alike.
    """
    free = offer.open_timings and "shorting" in first.timings
    one = Search(task, offer, ways, free, clock)
    one.ask_at_rest()
    landing: Landing | None = first
    while landing is not None:
        one.board.clauses.add(*one.moments.other_nets(landing))
        found = one.cheapest()
        landing = found.landing if found.proven else None
        if landing is not None:
            yield landing
