"""The verdict on each wiring and the findings behind it, as strips of the sheet."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from rewire.compare.findings import INFORMATION, Finding, Result
from rewire.compare.when import when
from rewire.draw.measure import width_mm
from rewire.draw.scene import Panel
from rewire.sheet.blocks import SMALL, badge, heading, marked, paragraph
from rewire.sheet.flow import Strip

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
    for result in results:
        strips.extend(_findings(result, width))
    return strips


def _verdict(result: Result, width: float) -> Strip:
    word, wide = badge(
        result.verdict.upper(), result.verdict == "broken", result.verdict == "changed"
    )
    states = "1 state" if result.states == 1 else f"{result.states} states"
    said = f"{result.wiring} {_SAYS[result.verdict]} ({states} compared)"
    line = paragraph(said, width - wide - 3.0, bold=True)
    rows = [
        item
        for n, strip in enumerate(line)
        for item in strip.panel.moved(wide + 3.0, 1.6 + n * strip.panel.height).items
    ]
    height = max(word.height, 1.6 + sum(s.panel.height for s in line)) + 0.8
    return Strip(Panel((*word.items, *rows), width, height), gap=1.2)


def _findings(result: Result, width: float) -> Iterator[Strip]:
    groups = (
        ("Wrong", [f for f in result.findings if not f.meant and f.kind not in INFORMATION]),
        ("Different on purpose",
         [f for f in result.findings if f.meant and f.kind not in INFORMATION]),
        ("For information", [f for f in result.findings if f.kind in INFORMATION]),
    )  # fmt: skip
    number = 0
    for title, findings in groups:
        if not findings:
            continue
        yield from paragraph(
            f"{title} in {result.wiring}", width, bold=True, gap=3.0, with_next=True
        )
        for finding in findings:
            number += 1
            yield from _finding(number, finding, width)


def _finding(number: int, finding: Finding, width: float) -> Iterator[Strip]:
    kind = f"{finding.kind}: "
    said = finding.message if finding.kind in INFORMATION else kind + finding.message
    yield from marked(f"{number}", said, width)
    for label, text in _evidence(finding):
        if text:
            indent = 7.5 + width_mm("between", SMALL)
            yield from marked(label, text, width, indent=indent, points=SMALL, gap=0.0)


def _evidence(finding: Finding) -> Iterator[tuple[str, str]]:
    yield "when", when(finding, _MOST)
    if any(len(group) > 1 for group in finding.groups):
        yield "between", " | ".join(", ".join(group) for group in finding.groups)
    yield "through", ", ".join(finding.through)
    yield "was", " – ".join(finding.was)
    yield "now", finding.now or ""
    yield "why", finding.why or ""
