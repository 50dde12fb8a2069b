"""What mends a broken wiring: the smallest change that the comparison, made anew, calls kept.

Changes are those of the bench (``repairs``), made on the record of the wiring. A quick count of
what is wrong at rest says which are worth a whole comparison; only what that calls kept is told.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from itertools import islice, pairwise, product
from math import prod

from rewire.bench.repairs import Faulty, Kind, Trial, new_roles, new_timings, roles_exchanged
from rewire.circuit.circuit import Circuit, circuit_of
from rewire.circuit.graph import Joiner
from rewire.circuit.roles import roles_as_written
from rewire.circuit.states import LimitReached
from rewire.circuit.tracing import Web
from rewire.compare import compare_wiring
from rewire.compare.findings import DECLARES, INFORMATION, Finding, Result
from rewire.compare.roles import roles_between
from rewire.records.spec import Change, ChangeKind, Spec, Wiring
from rewire.words.wire import HIGH, insulation_for

_Tries = Sequence[tuple[int, int]]
"""For each step: how many changes are compared whole, how many are counted for it."""
_TRIES: _Tries = ((7, 1000), (3, 1000), (3, 1000))
_BESIDES: _Tries = ((3, 150),)
"""Besides what is declared."""
_LARGE = 20_000
"""States of the controls from which no mend is looked for: each comparison takes too long."""
_LONG = 100
"""The same for wires."""
_MANY = 40
"""Findings from which no single change is to be expected."""
_MOST_STATES = 24
"""States in which all pairs are counted; where there are more, one control at a time is moved."""
_ON_PURPOSE: Mapping[str, ChangeKind] = {
    finding: change
    for change, finding in DECLARES.items()
    if finding in ("inserted", "linked", "gap", "bridge", "interrupted", "stray")
}
"""What one may well have meant, and how that is declared."""


@dataclass(frozen=True, slots=True)
class Mend:
    """A change that was tried, and what it takes away."""

    kind: Kind
    text: str
    """What to do, in words: ``a jumper S2.7 to S2.9``."""
    findings: tuple[int, ...]
    """Findings of the result, by number from 0, that are gone with it."""
    wiring: Wiring


def mends_of(spec: Spec, wiring: Wiring, result: Result) -> tuple[Mend, ...]:
    """The changes after all of which the comparison calls a broken wiring kept, or changed.

    The first of them mend it together, each by itself the findings that it names. What is merely
    declared comes last, for what may have been meant, with what must be done besides. Where some
    faults have no such change, those of the others are told if the two have nothing in common.
    """
    if result.verdict != "broken" or wiring is spec.original:
        return ()
    if result.states > _LARGE or len(_wrong(result)) > _MANY or len(wiring.wires) > _LONG:
        return ()
    try:
        found, left = _on_the_bench(spec, wiring, result, _TRIES)
        if left.verdict == "broken":
            return found if _apart(result, found, left) else ()
        return (*found, *_declared(spec, wiring, result, found))
    except LimitReached:
        return ()


def mends_all(result: Result, mends: Sequence[Mend]) -> bool:
    """Whether every fault of a wiring is gone when all of its mends are made."""
    gone = {number for mend in mends if mend.kind != "declared" for number in mend.findings}
    return _wrong(result).keys() <= gone


def _wrong(result: Result) -> dict[int, Finding]:
    """Findings that are faults, by number."""
    numbered = enumerate(result.findings)
    return {n: f for n, f in numbered if not f.meant and f.kind not in INFORMATION}


def _alike(one: Finding, other: Finding) -> bool:
    """Whether two findings are of one fault, between places that may have more on them now."""
    about = [(f.kind, f.part, f.rule, f.change, len(f.groups)) for f in (one, other)]
    return about[0] == about[1] and all(
        any(set(group) & set(same) for same in other.groups) for group in one.groups
    )


def _apart(result: Result, found: Sequence[Mend], left: Result) -> bool:
    """Whether what is still wrong is elsewhere and was wrong before, and nothing was taken off."""
    if any(mend.kind not in ("added", "role", "timing") for mend in found):
        return False
    old, still = _wrong(result).values(), _wrong(left).values()
    gone = [result.findings[number] for mend in found for number in mend.findings]
    return not _about(gone) & _about(still) and all(any(_alike(s, f) for f in old) for s in still)


def _about(findings: Iterable[Finding]) -> set[str]:
    """The parts and points that some findings name."""
    names = {name for f in findings for group in (*f.groups, f.through) for name in group}
    names |= {name for f in findings for name in (f.part, f.place) if name}
    return names | {name.partition(".")[0] for name in names}


def _on_the_bench(
    spec: Spec, wiring: Wiring, result: Result, tries: _Tries
) -> tuple[tuple[Mend, ...], Result]:
    """One change after another, each that leaves least wrong, and what is wrong after it."""
    found: list[Mend] = []
    left = result
    for most in tries:
        step = _best(spec, wiring, left, most)
        if step is None:
            break
        trial, after = step
        before, now = _wrong(left).values(), _wrong(after).values()
        gone = (
            number
            for number, finding in _wrong(result).items()
            if any(_alike(finding, one) for one in before)
            and not any(_alike(finding, one) for one in now)
        )
        text = trial.text + _insulated(spec, trial)
        found.append(Mend(trial.kind, text, tuple(gone), trial.wiring))
        wiring, left = trial.wiring, after
        if after.verdict != "broken":
            break
    return tuple(found), left


def _insulated(spec: Spec, trial: Trial) -> str:
    """What a new wire must stand: the most that it is connected to in any position."""
    if not trial.joins:
        return ""
    web, reached = Web(circuit_of(spec, trial.wiring).joints), set[str]()
    for state in _few_states(spec):
        reached |= web.reached(trial.joins, {name: 1 << at for name, at in state.items()})
    live = [abs(spec.points[name].most_volts) for name in reached & spec.points.keys()]
    volts = max(live, default=0.0)
    return f", {insulation_for(volts)}" if volts >= HIGH else ""


def _best(
    spec: Spec, wiring: Wiring, result: Result, most: tuple[int, int]
) -> tuple[Trial, Result] | None:
    """The first change that leaves nothing wrong, else the one that leaves, then brings, fewest."""
    best: tuple[Trial, Result] | None = None
    before = _wrong(result).values()
    least = len(before) - 1, len(before)
    for trial in _worth_comparing(spec, wiring, result, *most):
        after = compare_wiring(spec, trial.wiring)
        if after.verdict != "broken":
            return trial, after
        wrong = _wrong(after).values()
        left = len(wrong), sum(not any(_alike(one, old) for old in before) for one in wrong)
        if left < least:
            best, least = (trial, after), left
    return best


def _worth_comparing(
    spec: Spec, wiring: Wiring, result: Result, most: int, most_counted: int
) -> Iterator[Trial]:
    """Changes of roles, then those that leave nothing wrong at rest, then those that leave least.

    A timing mends nothing at rest: it is tried first where there is nothing wrong at rest.
    """
    wrong = list(_wrong(result).values())
    yield from new_roles(spec, wiring, result)
    yield from roles_exchanged(wiring, wrong)
    apart = _Apart(spec, wiring)
    before = apart.pairs(wiring)
    timings = list(islice(new_timings(spec, wiring, wrong), most))
    yield from timings if before == 0 else ()
    bench = Faulty(spec, wiring, wrong, roles_between(spec, wiring))
    counted: list[tuple[int, Trial]] = []
    for trial in islice(bench.trials(), most_counted):
        pairs = apart.pairs(trial.wiring)
        if pairs == 0 < before:
            yield trial
        elif pairs <= before:
            counted.append((pairs, trial))
    yield from timings if before else ()
    yield from (trial for _, trial in sorted(counted, key=lambda one: one[0])[:most])


def _declared(spec: Spec, wiring: Wiring, result: Result, found: Sequence[Mend]) -> Iterator[Mend]:
    """All that may have been meant, declared at once, where the rest can be mended then."""
    wrong = {number: f for number, f in _wrong(result).items() if f.kind in _ON_PURPOSE}
    if not wrong:
        return
    changes = tuple(_changes(wrong.values(), wiring))
    trial = replace(wiring, changes=(*wiring.changes, *changes))
    after = compare_wiring(spec, trial)
    text = f"changes: [{', '.join(map(_change_said, changes))}]"
    if after.verdict == "broken":
        if not any(wrong.keys().isdisjoint(mend.findings) for mend in found):
            return
        rest, after = _on_the_bench(spec, trial, after, _BESIDES)
        if after.verdict == "broken":
            return
        trial = rest[-1].wiring
        text = "; then ".join([text, *(one.text for one in rest)])
    yield Mend("declared", text, tuple(wrong), trial)


def _changes(findings: Iterable[Finding], wiring: Wiring) -> Iterator[Change]:
    for finding in findings:
        kind = _ON_PURPOSE[finding.kind]
        parts = finding.through if kind in ("insert", "link") else ()
        # points before lugs
        ends = [min(group, key=lambda name: ("." in name, name)) for group in finding.groups]
        for pair in pairwise(ends):
            yield Change(kind, parts, pair, {}, None, True, wiring.place)


def _change_said(change: Change) -> str:
    places = f"[{', '.join(change.anchors)}]"
    if not change.parts:
        return f"{{{change.kind}: {places}}}"
    parts = change.parts[0] if len(change.parts) == 1 else f"[{', '.join(change.parts)}]"
    return f"{{{change.kind}: {parts}, between: {places}}}"


class _Apart:
    """How far a wiring is from the original at rest in a few states: what is worth comparing."""

    def __init__(self, spec: Spec, wiring: Wiring) -> None:
        self._spec, self._states = spec, _few_states(spec)
        parts = spec.parts_of(wiring)
        names = {name for c in wiring.changes if c.kind == "insert" for name in c.parts}
        self._meant = [parts[name].full_terminals for name in names & parts.keys()]
        self._closed = self._contacts(wiring)
        seat = roles_as_written(spec, wiring).seat
        self._was = self._labels(spec.original, self._contacts(spec.original), list(seat))
        self._seats = list(seat.values())

    def pairs(self, wiring: Wiring) -> int:
        """Pairs of terminals that only one of the two connects, over all the states."""
        now = self._labels(wiring, self._closed, self._seats)
        return sum(map(_pairs_apart, self._was, now))

    def _contacts(self, wiring: Wiring) -> list[list[tuple[str, ...]]]:
        """Per state the groups of terminals that contacts close."""
        switches = circuit_of(self._spec, wiring).switches
        sections = [(switch, section) for switch in switches for section in switch.sections]
        return [
            [
                tuple(map(switch.terminal, group))
                for switch, section in sections
                for group in section.groups[state[switch.control]]
            ]
            for state in self._states
        ]

    def _labels(
        self, wiring: Wiring, closed: Sequence[Sequence[tuple[str, ...]]], seats: Sequence[str]
    ) -> list[list[int]]:
        """Per state which terminals are connected: those that have a number in common."""
        circuit = Circuit(self._spec, wiring)
        index: dict[str, int] = {}
        for name in (*seats, *circuit.terminals, *(lug for own in self._meant for lug in own)):
            index.setdefault(name, len(index))
        soldered = Joiner(len(index))
        for joint in (*circuit.soldered, *self._meant):
            soldered.join([index[name] for name in joint])
        found = []
        for groups in closed:
            joiner = soldered.copy()
            for group in groups:
                joiner.join([index[name] for name in group])
            found.append([joiner.root(index[seat]) for seat in seats])
        return found


def _few_states(spec: Spec) -> list[dict[str, int]]:
    """Every position of each control, the others at their first; all states where these are few."""
    sizes = {name: len(control.positions) for name, control in spec.controls.items()}
    if prod(sizes.values()) <= _MOST_STATES:
        every = product(*(range(size) for size in sizes.values()))
        return [dict(zip(sizes, at, strict=True)) for at in every]
    first = dict.fromkeys(sizes, 0)
    return [{**first, name: at} for name, size in sizes.items() for at in range(size)]


def _pairs_apart(was: Sequence[int], now: Sequence[int]) -> int:
    """Pairs that are together in one of two partitions and not in the other."""
    one, other, both = (
        sum(n * (n - 1) for n in Counter(labels).values())
        for labels in (was, now, zip(was, now, strict=True))
    )
    return (one + other) // 2 - both
