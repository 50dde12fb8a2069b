"""The comparison: good or not, what is wrong, what to do next; the evidence, and all for machines.

``short_sections`` is for somebody who reads one screen, ``full_sections`` has the evidence.
"""

from __future__ import annotations

import shlex
from collections.abc import Collection, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from itertools import count

from rewire.compare.assemble import SWITCHING
from rewire.compare.findings import (
    CUT,
    INFORMATION,
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
from rewire.report.section import ReportSection, Tone, Words
from rewire.words.wording import listed, listing

_MOST_NOTES = 20
_MOST_CASES = 6
_MOST_PLACES = 12
TONES: dict[str, Tone] = {"broken": "bad", "changed": "meant", "kept": "good"}
"""Verdict → its colour, the worst first."""
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
            return (
                f"lugs {', '.join(finding.place or '' for finding in self.findings)} are not used"
            )
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
    """Mere information; all lugs that nobody uses are told at once."""
    lugs = tuple(f for f in findings if f.kind == "spare" and "." in (f.place or ""))
    for finding in findings:
        if finding not in lugs:
            yield Told(None, (finding,))
        elif finding is lugs[0]:
            yield Told(None, lugs)


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
    word = "also" if finding.kind in ("joined", "linked") else "in the original also"
    said = [f"{', '.join(places)} {among}" for among, places in at.items()]
    return f"{word} {'; '.join(said)}" if said else ""


def was(finding: Finding) -> str:
    """The path as it was, and where that holds in some of the positions alone."""
    path = " – ".join(finding.was)
    return f"{path} (in {in_positions([finding.was_in])})" if finding.was_in else path


def _among(states: Sequence[State] | None) -> str:
    if states is None:
        return "in some of these positions"
    return f"in {in_positions(states)}" if states else "in all of these positions"


def full_sections(results: Sequence[Result]) -> Iterator[ReportSection]:
    """One spec with the evidence: every verdict, then the findings behind each."""
    yield ReportSection("verdict", "", tuple(map(_verdict, results)))
    for telling in tellings(results):
        yield from _findings(telling, titled=len(results) > 1)


def short_sections(results: Sequence[Result], file: str) -> Iterator[ReportSection]:
    """One spec on one screen: verdicts, what to do next, the plans, then what was found.

    Args:
        results: the comparisons, the plans first.
        file: the spec, as the next command is to name it.
    """
    verdicts = [*map(_verdict, results), Words(_next_step(results, file), "Next:")]
    yield ReportSection("verdict", "", tuple(verdicts))
    for telling in tellings(results):
        of = f" in {telling.result.wiring}" if len(results) > 1 else ""
        besides = telling.result.role in ("found", "tried") and len(results) > 1
        shown = _in_short if besides else _fault
        states = telling.result.states
        wrong = tuple(line for told in telling.wrong for line in shown(told, states))
        yield ReportSection("findings", f"Wrong{of}", wrong)
        meant = tuple(_headed(told, states, "meant") for told in telling.meant)
        yield ReportSection("findings", f"Changed on purpose{of}", meant)
        notes = () if besides else tuple(_worth_knowing(telling))
        lines = tuple(Words(said, "-", indent=2) for said in cut_short(notes))
        yield ReportSection("findings", f"Also{of}", lines)


def _next_step(results: Sequence[Result], file: str) -> str:
    """The command that follows, or what to mend."""
    spec = shlex.quote(file)
    plans = [result for result in results if result.role == "plan"]
    bad = next((result.wiring for result in plans if result.verdict == "broken"), None)
    if bad:
        return f"mend {bad} from no. 1 on, check again; what is meant goes under 'changes'"
    if not plans:
        return "write your plan as another wiring of the spec, and check again"
    found = next((result.wiring for result in results if result.role == "found"), None)
    if found:
        return f"rewire moves {spec} (the work, from {found})"
    return f"rewire values {spec} (what to fit and set)"


def _fault(told: Told, states: int) -> Iterator[Words]:
    yield _headed(told, states, "bad")
    first = told.first
    lost = first.kind in ("dropped", "inserted", "gap", "interrupted")
    lines = (
        ("was", was(first) if lost else ""),
        ("now", first.shortly or first.now or ""),
        *_rules_under(told),
        ("why", first.why or ""),
    )
    yield from (Words(text, label, indent=5) for label, text in lines if text)


def _in_short(told: Told, states: int) -> Iterator[Words]:
    yield _headed(told, states, "bad")
    lines = (("now", told.first.shortly), *_rules_under(told), ("why", told.first.why or ""))
    yield from (Words(text, label, indent=5) for label, text in lines if text)


def _headed(told: Told, states: int, tone: Tone) -> Words:
    at = when_all(told.alike, states)
    said = f"{told.message} ({at})" if at else told.message
    return Words(said, f"{told.number}.", tone=tone, indent=2)


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
    return listed([*said, *moving], _MOST_CASES)


def _rules_under(told: Told) -> Iterator[tuple[str, str]]:
    for rule in told.rules:
        asked = rule.message.partition(": ")[2]
        yield f"rule {(rule.rule or 0) + 1}:", rule.why or asked


def _worth_knowing(telling: Telling) -> Iterator[str]:
    """What one may have to act on: slips, new parts, graver values, stops, timings."""
    named = {part for told in (*telling.wrong, *telling.meant) for part in told.first.through}
    quiet: list[str] = []
    for finding in (one.first for one in telling.known):
        said = finding.message.partition(" ")[2] if finding.kind == "altered" else finding.message
        if finding.kind == "altered" and not finding.first:
            quiet.append(said.partition(":")[0])
        elif finding.kind == "added" and finding.part in named:
            continue
        elif finding.kind != "live" and "." not in (finding.place or ""):
            yield said
    if quiet:
        yield f"other values: {listed(quiet)}"


def cut_short(notes: Sequence[str]) -> Iterator[str]:
    """The first notes, and how many more there are."""
    yield from notes[:_MOST_NOTES]
    if len(notes) > _MOST_NOTES:
        yield f"and {len(notes) - _MOST_NOTES} more (--json lists all)"


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
    if result.verdict == "changed" and live_of(result):
        return f"changed, but {live_of(result)}"
    if result.verdict != "broken":
        return result.verdict
    return f"broken, {_count(result)}"


def _verdict(result: Result) -> Words:
    as_what = "" if result.wiring == "as-found" else as_told(result.role)
    said = f"{result.wiring}{as_what} {reason(result)}"
    return Words(said, f"{result.verdict.upper()}:", tone=TONES[result.verdict])


def reason(result: Result) -> str:
    """The verdict in words, to follow the name of the wiring."""
    live = live_of(result)
    if result.verdict == "changed":
        said = f"is good: {_but_for(result)}, all else kept"
        return f"{said}; but {live}: see that it is meant" if live else said
    if result.verdict == "broken":
        facts = [Told(None, group) for group in together(_unmeant(result))]
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
    return counted(sum(1 for _ in together(_unmeant(result))), "fault")


def _unmeant(result: Result) -> list[Finding]:
    return [f for f in result.findings if not f.meant and f.kind not in INFORMATION]


def _findings(telling: Telling, titled: bool) -> Iterator[ReportSection]:
    of = f" in {telling.result.wiring}" if titled else ""
    groups: tuple[tuple[str, Sequence[Told], Tone], ...] = (
        ("Wrong", telling.wrong, "bad"),
        ("Changed on purpose", telling.meant, "meant"),
    )
    for title, found, tone in groups:
        words = tuple(line for told in found for line in _finding(told, tone))
        yield ReportSection("findings", title + of, words)
    notes = cut_short([told.message for told in telling.known])
    lines = tuple(Words(said, "-", indent=2) for said in notes)
    yield ReportSection("findings", f"For information{of}", lines)


def _finding(told: Told, tone: Tone) -> Iterator[Words]:
    yield Words(told.message, f"{told.number}. {told.first.kind.upper()}:", tone=tone, indent=2)
    for label, text in lines_under(told):
        hint = text.replace(CUT, f"{CUT} (--json lists them)") if label == "when" else text
        yield Words(hint, f"{label:<7}", indent=5)


def lines_under(told: Told) -> Iterator[tuple[str, str]]:
    """What stands under a finding: a word in the margin and its text."""
    if told.first.kind in _PATHS and len(told.alike) > 1:
        lines = evidence_of_paths(told)
    else:
        lines = (line for finding in told.alike for line in _evidence(finding))
    yield from ((label, text) for label, text in (*lines, *_rules_under(told)) if text)


def about_finding(result: Result, told: Told) -> str:
    """What the page's script knows a finding by."""
    return f"{result.wiring}:{told.number or told.message}"


def _evidence(finding: Finding) -> Iterator[tuple[str, str]]:
    yield "when", when(finding, _MOST_CASES)
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
    """One wiring, as ``rewire check`` gives it."""
    told: JSON = as_json(result, _KEYS)
    return told
