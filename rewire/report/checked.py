"""The report of a check: good or not, what is wrong, what to do next.

``short_sections`` is for somebody who reads one screen, ``full_sections`` has the evidence.
"""

from __future__ import annotations

import shlex
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

from rewire.compare.findings import CUT, Result
from rewire.compare.mounting import Mounting
from rewire.report.check import (
    TONES,
    Telling,
    Told,
    about_finding,
    headline,
    lines_under,
    result_as_json,
    rules_under,
    tellings,
    was,
    when_all,
)
from rewire.report.machine import JSON
from rewire.report.mounting import mounting_as_json, mounting_words
from rewire.report.section import ReportSection, Tone, Words, note
from rewire.words.wording import listed, listing

if TYPE_CHECKING:
    from rewire.bench.mends import Mend

_MOST_NOTES = 20


@dataclass(frozen=True, slots=True)
class Checked:
    """A comparison, what mends it, and what is read in the wiring."""

    result: Result
    mends: tuple[Mend, ...] = ()
    readings: tuple[str, ...] = ()
    mountings: tuple[Mounting, ...] = ()
    """Its switches and meters beside those whose place they take, as the panel sees them."""
    to_fit: bool = False
    """Whether a value or a setting of it is still to be worked out."""


def full_sections(checked: Sequence[Checked]) -> Iterator[ReportSection]:
    """One spec with the evidence: every verdict, then the findings behind each."""
    yield ReportSection("verdict", "", tuple(_verdict(one.result) for one in checked))
    for telling, one in _told(checked):
        yield from _listed(in_full(telling, one.mends), telling, len(checked) > 1)
        lines = tuple(line for mounting in one.mountings for line in mounting_words(mounting))
        of = f" of {one.result.wiring}" if len(checked) > 1 else ""
        yield ReportSection("panel", f"In the panel{of}", lines)


def short_sections(checked: Sequence[Checked], file: str) -> Iterator[ReportSection]:
    """One spec on one screen: verdicts, what to do next with ``file``, plans, what was found."""
    verdicts = [_verdict(one.result) for one in checked]
    yield ReportSection("verdict", "", (*verdicts, Words(_next_step(checked, file), "Next:")))
    for telling, one in _told(checked):
        besides = one.result.role in ("found", "tried") and len(checked) > 1
        yield from _listed(_in_short(telling, one.mends, besides), telling, len(checked) > 1)


Group = tuple[str, Iterable[Words]]
"""What is wrong, what is meant or what to know besides, under its heading."""


def _told(checked: Sequence[Checked]) -> Iterator[tuple[Telling, Checked]]:
    return zip(tellings([one.result for one in checked]), checked, strict=True)


def _listed(groups: Iterable[Group], telling: Telling, named: bool) -> Iterator[ReportSection]:
    of = f" in {telling.result.wiring}" if named else ""
    for title, lines in groups:
        yield ReportSection("findings", f"{title}{of}", tuple(lines))


def _in_short(telling: Telling, mends: Sequence[Mend], besides: bool) -> Iterator[Group]:
    """What one may have to act on; of what is told ``besides`` a plan, neither paths nor notes."""
    states, by_fault = telling.result.states, mends_by_fault(telling, mends)
    wrong = (
        replace(_headed(told, states, "bad"),
                under=(*_under(told, not besides), *by_fault.get(told.number, ())))
        for told in telling.wrong
    )  # fmt: skip
    yield "Wrong", wrong
    yield "Changed on purpose", (_headed(told, states, "meant") for told in telling.meant)
    yield "Also", map(note, () if besides else cut_short(tuple(_worth_knowing(telling))))


def in_full(telling: Telling, mends: Sequence[Mend] = ()) -> Iterator[Group]:
    """Every finding with its evidence."""
    by_fault = mends_by_fault(telling, mends)
    groups: tuple[tuple[str, Sequence[Told], Tone], ...] = (
        ("Wrong", telling.wrong, "bad"),
        ("Changed on purpose", telling.meant, "meant"),
    )
    for title, found, tone in groups:
        yield title, (
            Words(
                told.message, f"{told.number}. {told.first.kind.upper()}:", tone=tone, indent=2,
                under=(*_evidence(told), *by_fault.get(told.number, ())),
                about=about_finding(telling.result, told),
            )
            for told in found
        )  # fmt: skip
    yield (
        "For information",
        (
            replace(note(told.message), about=about_finding(telling.result, told))
            for told in telling.known
        ),
    )


def _evidence(told: Told) -> Iterator[Words]:
    for label, text in lines_under(told):
        hint = text.replace(CUT, f"{CUT} (--json lists them)") if label == "when" else text
        yield Words(hint, f"{label:<7}", indent=5)


def mends_by_fault(telling: Telling, mends: Sequence[Mend]) -> Mapping[int | None, Sequence[Words]]:
    """Number of a fault → the lines on what mends it, each under the first fault that it mends."""
    found: dict[int | None, list[Words]] = {}
    last = telling.wrong[0].number if telling.wrong else None
    for mend in mends:
        gone = [telling.result.findings[number] for number in mend.findings]
        numbers = [
            told.number
            for told in telling.wrong
            if any(f is g for f in told.findings for g in gone)
        ]
        last = numbers[0] if numbers else last
        said = listing([str(number) for number in numbers]) if len(numbers) > 1 else "it"
        is_meant = f"{'are' if len(numbers) > 1 else 'is'} meant"
        label = f"mends {said}:" if mend.kind != "declared" else f"if {said} {is_meant}:"
        text = mend.text if numbers else f"then {mend.text}"
        found.setdefault(last, []).append(Words(text, label, tone="good", indent=5))
    return found


def _next_step(checked: Sequence[Checked], file: str) -> str:
    """The command that follows, or what to mend."""
    spec, read = shlex.quote(file), any(one.readings for one in checked)
    results = [one.result for one in checked]
    plans = [one for one in checked if one.result.role == "plan"]
    bad = next((one for one in plans if one.result.verdict == "broken"), None)
    if bad:
        how = _how(bad)
        then = ", then see what rewire values says" if read else ""
        return f"mend {bad.result.wiring} {how}, check again{then}"
    if not plans:
        return "write your plan as another wiring of the spec, and check again"
    found = next((result.wiring for result in results if result.role == "found"), None)
    if found:
        first = f"rewire values {spec}, then " if read else ""
        return f"{first}rewire moves {spec} (the work, from {found})"
    if not read:
        return f"rewire sheet {spec} (the packet for the bench)"
    is_open = any(one.to_fit for one in plans)
    return f"rewire values {spec} ({'what to fit and set' if is_open else 'errors and ratings'})"


def _how(bad: Checked) -> str:
    if not bad.mends:
        return "or declare under 'changes' what is meant"
    # Loaded here: a wiring that is good needs none of it.
    from rewire.bench.mends import mends_all

    return "as said below" if mends_all(bad.result, bad.mends) else "as far as is said below"


def _under(told: Told, with_path: bool) -> Iterator[Words]:
    """What is there now, and why it matters; ``with_path`` also how it was."""
    first = told.first
    lost = with_path and first.kind in ("dropped", "inserted", "gap", "interrupted")
    lines = (
        ("was", was(first) if lost else ""),
        ("now", first.shortly or (first.now or "" if with_path else "")),
        *rules_under(told),
        ("why", first.why or ""),
    )
    return (Words(text, label, indent=5) for label, text in lines if text)


def _headed(told: Told, states: int, tone: Tone) -> Words:
    at = when_all(told.alike, states)
    said = f"{told.message} ({at})" if at else told.message
    return Words(said, f"{told.number}.", tone=tone, indent=2)


def _worth_knowing(telling: Telling) -> Iterator[str]:
    """What one may have to act on: slips, new parts, graver values, stops, timings."""
    named = {part for told in (*telling.wrong, *telling.meant) for part in told.first.through}
    quiet: list[str] = []
    for told in telling.known:
        finding, said = told.first, told.message
        said = said.partition(" ")[2] if finding.kind == "altered" else said
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


def _verdict(result: Result) -> Words:
    verdict, said = headline(result)
    return Words(said, f"{verdict}:", tone=TONES[result.verdict] if result.compared else "plain")


def checked_as_json(checked: Checked) -> JSON:
    """One wiring with what mends it."""
    mends = [
        {"kind": mend.kind, "text": mend.text, "findings": list(mend.findings)}
        for mend in checked.mends
    ]
    mountings = [mounting_as_json(one) for one in checked.mountings]
    return {**result_as_json(checked.result), "mends": mends, "mountings": mountings}
