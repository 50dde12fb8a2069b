"""The verdict on each wiring and the findings behind it, as strips of the sheet."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from rewire.compare.findings import INFORMATION, Finding, Result, parted
from rewire.compare.when import company, was, when
from rewire.draw.measure import width_mm
from rewire.draw.scene import Panel
from rewire.sheet.blocks import SMALL, badge, heading, marked, paragraph
from rewire.sheet.flow import Strip

_SAYS = {
    "kept": "keeps every connection of the original",
    "changed": "differs from the original only as declared",
    "broken": "does not do what the original did",
}
_ACROSS = (
    "differs from the original as declared, and has parts added across places that the original "
    "keeps apart"
)
_MOST = 8
"""Phrases about states or steps printed for one finding; the rest is counted."""


def verdict_strips(results: Sequence[Result], width: float) -> list[Strip]:
    """Verdicts first, then the findings wiring by wiring."""
    if not results:
        return []
    strips = [heading("Verdict", width)]
    for result in results:
        strips.append(_verdict(result, width))
    for result in results:
        strips.extend(_findings(result, width))
    return strips


def _verdict(result: Result, width: float) -> Strip:
    word, wide = badge(
        result.verdict.upper(), result.verdict == "broken", result.verdict == "changed"
    )
    states = "1 state" if result.states == 1 else f"{result.states} states"
    said = f"{result.wiring} {says(result)} ({states} compared)"
    line = paragraph(said, width - wide - 3.0, bold=True)
    rows = [
        item
        for n, strip in enumerate(line)
        for item in strip.panel.moved(wide + 3.0, 1.6 + n * strip.panel.height).items
    ]
    height = max(word.height, 1.6 + sum(s.panel.height for s in line)) + 0.8
    return Strip(Panel((*word.items, *rows), width, height), gap=1.2)


def says(result: Result) -> str:
    """The verdict in words, to follow the name of the wiring."""
    loud, _ = parted(result.findings)
    return _ACROSS if loud and result.verdict == "changed" else _SAYS[result.verdict]


def groups_of(result: Result) -> Iterator[tuple[str, list[Finding]]]:
    """The findings under their titles, the wrong ones first."""
    loud, known = parted(result.findings)
    others = [f for f in result.findings if f.kind not in INFORMATION]
    groups = (
        ("Wrong", [f for f in others if not f.meant]),
        ("Different on purpose", [f for f in others if f.meant]),
        ("Added across places that the original keeps apart, not judged,", loud),
        ("For information", known),
    )
    yield from ((f"{title} in {result.wiring}", found) for title, found in groups if found)


def _findings(result: Result, width: float) -> Iterator[Strip]:
    number = 0
    for title, findings in groups_of(result):
        yield from paragraph(title, width, bold=True, gap=3.0, with_next=True)
        for finding in findings:
            number += 1
            yield from _finding(number, finding, width)


def _finding(number: int, finding: Finding, width: float) -> Iterator[Strip]:
    kind = f"{finding.kind}: "
    said = finding.message if finding.kind in INFORMATION else kind + finding.message
    yield from marked(f"{number}", said, width)
    for label, text in evidence(finding):
        if text:
            indent = 7.5 + width_mm("between", SMALL)
            yield from marked(label, text, width, indent=indent, points=SMALL, gap=0.0)


def evidence(finding: Finding) -> Iterator[tuple[str, str]]:
    """What stands under a finding: a word in the margin and its text, which may be empty."""
    yield "when", when(finding, _MOST)
    if any(len(group) > 1 for group in finding.groups):
        yield "between", " | ".join(", ".join(group) for group in finding.groups)
    yield "through", ", ".join(finding.through)
    for one in finding.across:
        yield "links", one.message
    yield "also", company(finding)
    yield "was", was(finding)
    yield "now", finding.now or ""
    yield "why", finding.why or ""
