"""What a comparison found, fact by fact: in words, with its evidence, and for machines."""

from __future__ import annotations

from collections.abc import Collection, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from itertools import count

from rewire.compare.findings import (
    INFORMATION,
    SWITCHING,
    AlsoConnected,
    Finding,
    FindingKind,
    Result,
    State,
    Step,
    bare,
    in_positions,
    moves,
    when,
)
from rewire.records.spec import Role
from rewire.report.machine import JSON, Keys, as_json
from rewire.report.section import Tone
from rewire.words.wording import listed, listing

MOST_CASES = 6
_THROW = " throw "
"""Between a switch and its number, in the place of a throw that is not used."""
_MOST_PLACES = 12
TONES: dict[str, Tone] = {"broken": "bad", "changed": "meant", "kept": "good"}
"""Verdict → its colour, the worst first."""
NOTHING_YET = "NOTHING TO COMPARE YET"
"""In place of a verdict, where only the original is there, and no rules."""
_AS_TOLD: Mapping[Role | None, str] = {
    "found": ", as found on the bench,",
    "tried": ", only tried,",
}
_PATHS: dict[FindingKind, str] = {
    "interrupted": "the current in {} paths stops for a moment",
    "stray": "current flows for a moment over {} paths",
}


def as_told(role: Role | None) -> str:
    """What follows the name of a wiring that is no plan, before its verdict."""
    return _AS_TOLD.get(role, "")


@dataclass(frozen=True, slots=True)
class Told:
    """One fact: a finding, those that say the same elsewhere, and the rules that it breaks."""

    number: int | None
    findings: tuple[Finding, ...]

    @property
    def first(self) -> Finding:
        """The one that speaks for all of them."""
        return self.findings[0]

    @property
    def alike(self) -> tuple[Finding, ...]:
        """The findings of its kind, without the rules that they break."""
        return tuple(f for f in self.findings if f.kind == self.first.kind)

    @property
    def rules(self) -> tuple[Finding, ...]:
        """The rules that are broken by it."""
        return tuple(f for f in self.findings if f.kind == "rule" != self.first.kind)

    @property
    def message(self) -> str:
        """In plain words, for the bench."""
        kind = self.first.kind
        if len(self.alike) == 1:
            return self.first.message
        if kind == "spare":
            return _spare_said([finding.place or "" for finding in self.findings], self.first)
        if kind == "inserted":
            leads = listing(["/".join(_lead(self.alike))])
            return f"{listing(self.first.through)} now in series with {leads}"
        if kind == "joined":
            one, other = sorted(_parts_shorted(self.first) or ())
            return f"{other} is across {one}"
        return _PATHS[kind].format(len(self.alike))


@dataclass(frozen=True, slots=True)
class Telling:
    """What is told of one wiring, under three headings."""

    result: Result
    wrong: tuple[Told, ...]
    meant: tuple[Told, ...]
    known: tuple[Told, ...]
    """Mere information, without numbers."""


def tellings(results: Iterable[Result]) -> Iterator[Telling]:
    """All findings of some comparisons; a number stands for one fact in all of them."""
    numbers = count(1)
    for result in results:
        telling = [f for f in result.findings if f.kind not in INFORMATION]
        known = [f for f in result.findings if f.kind in INFORMATION]
        unmeant, declared = [f for f in telling if not f.meant], [f for f in telling if f.meant]
        wrong, meant = (
            tuple(Told(next(numbers), group) for group in together(found))
            for found in (unmeant, declared)
        )
        yield Telling(result, wrong, meant, tuple(_known(known)))


def _known(findings: Sequence[Finding]) -> Iterator[Told]:
    """Mere information; all unused lugs in one line, and all unused throws of a switch."""
    groups: dict[object, list[Finding]] = {}
    for number, finding in enumerate(findings):
        place = finding.place or ""
        switch, _, throw = place.partition(_THROW)
        own = switch if throw else "lugs" if "." in place else number
        groups.setdefault(own if finding.kind == "spare" else number, []).append(finding)
    yield from (Told(None, tuple(group)) for group in groups.values())


def _spare_said(places: Sequence[str], first: Finding) -> str:
    throws = [place.partition(_THROW)[2] for place in places]
    if not any(throws):
        return f"lugs {', '.join(places)} are not used"
    return first.message.replace(f"a throw {throws[0]} ", f"throws {listing(throws)} ")


def live_of(result: Result) -> str:
    """What declared differences put on the chassis or on other volts; empty for nothing."""
    return "; ".join(f.message for f in result.findings if f.kind == "live")


def together(findings: Sequence[Finding]) -> Iterator[tuple[Finding, ...]]:
    """The findings fact by fact; a broken rule is part of the fault that breaks it.

    One fact are current paths that stop, or begin, in the same moves; one part in the same lead;
    two parts shorted to each other at both ends.
    """
    groups: list[list[Finding]] = []
    for finding in (f for f in findings if f.kind != "rule"):
        same = next((group for group in groups if _one_fact(group, finding)), None)
        if same is None:
            groups.append(same := [])
        same.append(finding)
    for rule in (f for f in findings if f.kind == "rule"):
        broken = next((group for group in groups if any(_breaks(f, rule) for f in group)), None)
        if broken is None:
            groups.append(broken := [])
        broken.append(rule)
    yield from map(tuple, groups)


def _one_fact(group: Sequence[Finding], other: Finding) -> bool:
    """Whether a finding says the same as those of a group, elsewhere."""
    one = group[0]
    if one.kind != other.kind:
        return False
    if one.kind in _PATHS:
        return _moment(one) == _moment(other)
    if one.kind == "inserted":
        return one.through == other.through != () and bool(_lead((*group, other)))
    return one.kind == "joined" and _parts_shorted(one) == _parts_shorted(other) is not None


def _moment(finding: Finding) -> object:
    return finding.why, finding.in_step, frozenset(map(bare, finding.steps))


def _lead(findings: Sequence[Finding]) -> tuple[str, ...]:
    """The anchors that stand in one group of every finding."""
    shared = set(findings[0].groups).intersection(*(f.groups for f in findings))
    return min(shared, default=())


def _parts_shorted(finding: Finding) -> frozenset[str] | None:
    """The two parts of which one terminal each is shorted to the other's."""
    names = [group[0].partition(".") for group in finding.groups if len(group) == 1]
    parts = frozenset(name for name, point, _ in names if point)
    return parts if len(parts) == len(finding.groups) == 2 else None


def _breaks(finding: Finding, rule: Finding) -> bool:
    """Whether a finding is what breaks a rule: between its two places, whenever it is broken."""
    where = [
        next((n for n, group in enumerate(finding.groups) if place in group), None)
        for (place,) in rule.groups
    ]
    if None in where or len(set(where)) < 2:
        return False
    steps = set(map(bare, finding.steps))
    return all(bare(step) in steps for step in rule.steps) and all(
        any(_within(state, one) for one in finding.states) for state in rule.states
    )


def _within(state: State, wide: State) -> bool:
    return wide.as_dict().items() <= state.as_dict().items() or (
        state.as_dict().items() <= wide.as_dict().items()
    )


def evidence_of_paths(told: Told) -> Iterator[tuple[str, str]]:
    """What stands under several paths: the moves once, then each path.

    Where the other controls must stand in a certain way for one, that is said with it.
    """
    if told.first.kind not in _PATHS:
        return
    yield "when", moves(told.first)
    for finding in told.alike:
        names = " to ".join("/".join(group) for group in finding.groups)
        path = " – ".join(finding.was) if finding.kind == "interrupted" else finding.now or ""
        yield "path", f"{names}{_others(finding)}: {path}"
    if told.first.kind == "interrupted":
        yield "now", told.first.now or ""
    yield "why", told.first.why or ""


def _others(finding: Finding) -> str:
    return when(finding, 2).removeprefix(moves(finding))


def company(finding: Finding) -> str:
    """All that is connected to the places of a finding besides, and when; empty for nothing."""
    at: dict[str, list[str]] = {}
    for one in finding.company:
        at.setdefault(_among(one.states), []).append(one.place)
    word = "is" if finding.kind in ("joined", "linked") else "was"
    said = [f"{', '.join(places)} {among}" for among, places in at.items()]
    return f"{word} connected to {'; '.join(said)}" if said else ""


def was(finding: Finding) -> str:
    """The path as it was, and where that holds in some of the positions alone."""
    path = " – ".join(finding.was)
    return f"{path} (in {in_positions([finding.was_in])})" if finding.was_in else path


def _among(states: Sequence[State] | None) -> str:
    if states is None:
        return "in some of these positions"
    return f"in {in_positions(states)}" if states else "in all of these positions"


def when_all(findings: Sequence[Finding], states: int) -> str:
    """When any of some findings holds, as short as can be said."""
    steps = dict.fromkeys(map(bare, (s for f in findings for s in f.steps)))
    moving = [
        f"{control}: {before} to {step.after.as_dict()[control]}"
        for step in steps
        for control, before in step.before.at
    ]
    at = tuple(dict.fromkeys(state for finding in findings for state in finding.states))
    if any(not state.at for state in at) or len(at) == states > 1:
        return "; ".join(["every position", *moving])
    said = dict.fromkeys(in_positions(f.states) for f in findings if f.states)
    if len({tuple(name for name, _ in state.at) for state in at}) == 1:
        said = {in_positions(at): None}
    return listed([*said, *moving], MOST_CASES)


def rules_under(told: Told) -> Iterator[tuple[str, str]]:
    """The rules that a fault breaks, each with its reason."""
    for rule in told.rules:
        asked = rule.message.partition(": ")[2]
        yield f"rule {(rule.rule or 0) + 1}:", rule.why or asked


def brief(results: Sequence[Result], counting: Collection[str]) -> tuple[str, str]:
    """One spec among several: the worst verdict of the wirings that count, and a line on all."""
    counted_ones = [r for r in results if r.wiring in counting] or results
    verdicts = {result.verdict for result in counted_ones}
    worst = next((verdict for verdict in TONES if verdict in verdicts), "kept")
    return worst, "; ".join(f"{result.wiring} {_brief(result)}" for result in results)


def counted(count: int, thing: str) -> str:
    """A number and its noun: ``1 fault``, ``3 faults``."""
    return f"{count} {thing}" if count == 1 else f"{count} {thing}s"


def _brief(result: Result) -> str:
    if not result.compared:
        return "is alone"
    if result.verdict == "changed" and live_of(result):
        return f"changed, but {live_of(result)}"
    if result.verdict != "broken":
        return result.verdict
    return f"broken, {_count(result)}"


def headline(result: Result) -> tuple[str, str]:
    """The verdict in capitals, and in words."""
    if not result.compared:
        return NOTHING_YET, "only the original is there"
    told = "" if result.wiring == "as-found" else as_told(result.role)
    return result.verdict.upper(), f"{result.wiring}{told} {_reason(result)}"


def _reason(result: Result) -> str:
    """The verdict in words, to follow the name of the wiring."""
    live = live_of(result)
    if result.verdict == "changed":
        said = f"is good: {_but_for(result)}, all else kept"
        return f"{said}; but {live}: see that it is meant" if live else said
    if result.verdict == "broken":
        facts = [Told(None, group) for group in wrong_facts(result)]
        more = " …" if len(facts) > 1 else ""
        said = f"has {counted(len(facts), 'fault')}: {facts[0].message}{more}"
        return f"{said}; {live}" if live else said
    if result.wiring == "original":
        return "keeps every rule of the spec; other wirings are compared with it"
    return "keeps every original connection"


def _but_for(result: Result) -> str:
    """The declared changes, and the parts that are new besides."""
    facts = list(together([f for f in result.findings if f.meant and f.kind not in INFORMATION]))
    named = {part for fact in facts for part in fact[0].through}
    added = sum(f.kind == "added" and f.part not in named for f in result.findings)
    pairs = ((len(facts), "declared change"), (added, "new part"))
    return ", ".join(counted(count, thing) for count, thing in pairs if count)


def _count(result: Result) -> str:
    """As they are numbered below the verdict."""
    return counted(len(wrong_facts(result)), "fault")


def wrong_facts(result: Result) -> list[tuple[Finding, ...]]:
    """What is wrong and not meant, fact by fact."""
    found = (f for f in result.findings if not f.meant and f.kind not in INFORMATION)
    return list(together(list(found)))


def lines_under(told: Told) -> Iterator[tuple[str, str]]:
    """What stands under a finding: a word in the margin and its text."""
    if told.first.kind in _PATHS and len(told.alike) > 1:
        lines = evidence_of_paths(told)
    else:
        lines = (line for finding in told.alike for line in _evidence(finding))
    yield from ((label, text) for label, text in (*lines, *rules_under(told)) if text)


def about_finding(result: Result, told: Told) -> str:
    """What the page's script knows a finding by."""
    return f"{result.wiring}:{told.number or told.message}"


def _evidence(finding: Finding) -> Iterator[tuple[str, str]]:
    yield "when", when(finding, MOST_CASES)
    yield "between", _between(finding.groups)
    yield "through", ", ".join(finding.through)
    yield "also", company(finding)
    yield "was", was(finding)
    yield "now", finding.now or ""
    yield "why", finding.why or ""


def _between(groups: Sequence[Sequence[str]]) -> str:
    """The places, points first and every one of them; the message already names groups of one."""
    if all(len(group) == 1 for group in groups):
        return ""
    return " | ".join(map(_group, groups))


def _group(group: Sequence[str]) -> str:
    points = [place for place in group if "." not in place]
    others = [place for place in group if "." in place]
    return listed([*points, *others], max(len(points), _MOST_PLACES))


def finding_as_json(finding: Finding) -> JSON:
    """One finding, as every command gives it; of what does not concern its kind, no key."""
    told = {key: as_json(getattr(finding, key), _KEYS) for key in _FINDING.split()}
    moving = finding.kind in SWITCHING
    left_out = {key for key in _ABOUT.split() if told[key] is None}
    left_out |= {"states"} if moving or (finding.steps and not finding.states) else set()
    left_out |= set() if moving or finding.steps else {"steps"}
    return {key: item for key, item in told.items() if key not in left_out}


_ABOUT = "rule change part place in_step"
_FINDING = f"kind meant states steps groups {_ABOUT} through company was now why message"
_KEYS: Keys = {
    Result: "wiring verdict states findings",
    Finding: finding_as_json,
    AlsoConnected: "place states",
    Step: "from=before to=after",
    State: State.as_dict,
}


def result_as_json(result: Result) -> JSON:
    """One comparison, for machines."""
    told: JSON = as_json(result, _KEYS)
    return told
