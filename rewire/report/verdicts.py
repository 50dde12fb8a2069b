"""The verdict on each wiring and the findings behind it, as strips of the sheet."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from rewire.bench.record import Record
from rewire.compare.findings import Finding, Result
from rewire.compare.telling import Telling, Told, evidence_of_paths, live_of, tellings
from rewire.compare.when import company, was, when
from rewire.compare.words import as_told
from rewire.draw.measure import width_mm
from rewire.draw.scene import Panel
from rewire.report.blocks import SMALL, badge, heading, marked, paragraph
from rewire.report.flow import Strip

_SAYS = {
    "kept": "keeps every connection of the original",
    "changed": "differs from the original only as declared",
    "broken": "does not do what the original did",
}
_MOST = 8
"""Phrases about states or steps printed for one finding; the rest is counted."""


def verdict_strips(results: Sequence[Result], width: float) -> list[Strip]:
    """Verdicts first, then the findings wiring by wiring."""
    if not results:
        return []
    strips = [heading("Verdict", width)]
    for result in results:
        strips.append(_verdict(result, width))
    for telling in tellings(results):
        strips.extend(_findings(telling, width))
    return strips


def _verdict(result: Result, width: float) -> Strip:
    word, wide = badge(
        result.verdict.upper(), result.verdict == "broken", result.verdict == "changed"
    )
    states = "1 state" if result.states == 1 else f"{result.states} states"
    said = f"{result.wiring}{as_told(result.role)} {says(result)} ({states} compared)"
    line = paragraph(said, width - wide - 3.0, bold=True)
    rows = [
        item
        for n, strip in enumerate(line)
        for item in strip.panel.moved(wide + 3.0, 1.6 + n * strip.panel.height).items
    ]
    height = max(word.height, 1.6 + sum(s.panel.height for s in line)) + 0.8
    return Strip(Panel((*word.items, *rows), width, height), gap=1.2)


def built_otherwise(record: Record | None) -> str:
    """What must be read before a verdict on the plan where measurements failed; else empty."""
    if record is None or not record.failures:
        return ""
    return (
        f"{record.wiring.name} as built is not as planned: {record.failures} of what was measured "
        "failed, see the record. The verdict is on the plan."
    )


def says(result: Result) -> str:
    """The verdict in words, to follow the name of the wiring."""
    live = live_of(result)
    return f"{_SAYS[result.verdict]}, but {live}" if live else _SAYS[result.verdict]


def groups_of(telling: Telling) -> Iterator[tuple[str, tuple[Told, ...]]]:
    """What is told of one wiring under its titles, the wrong first."""
    groups = (
        ("Wrong", telling.wrong),
        ("Different on purpose", telling.meant),
        ("For information", telling.known),
    )
    name = telling.result.wiring
    yield from ((f"{title} in {name}", found) for title, found in groups if found)


def _findings(telling: Telling, width: float) -> Iterator[Strip]:
    for title, found in groups_of(telling):
        yield from paragraph(title, width, bold=True, gap=3.0, with_next=True)
        for told in found:
            yield from _finding(told, width)


def _finding(told: Told, width: float) -> Iterator[Strip]:
    mark, kind = ("–", "") if told.number is None else (f"{told.number}", f"{told.first.kind}: ")
    yield from marked(mark, kind + told.message, width)
    for label, text in evidence(told):
        indent = 7.5 + width_mm("between", SMALL)
        yield from marked(label, text, width, indent=indent, points=SMALL, gap=0.0)


def evidence(told: Told) -> Iterator[tuple[str, str]]:
    """What stands under a finding: a word in the margin and its text."""
    many = len(told.findings) > 1
    lines = evidence_of_paths(told) if many else _evidence(told.first)
    yield from ((label, text) for label, text in lines if text)


def _evidence(finding: Finding) -> Iterator[tuple[str, str]]:
    yield "when", when(finding, _MOST)
    if any(len(group) > 1 for group in finding.groups):
        yield "between", " | ".join(", ".join(group) for group in finding.groups)
    yield "through", ", ".join(finding.through)
    yield "also", company(finding)
    yield "was", was(finding)
    yield "now", finding.now or ""
    yield "why", finding.why or ""
