"""Sections as strips of paper."""

from __future__ import annotations

from collections.abc import Iterator

from rewire.report.blocks import heading, marked, paragraph, table
from rewire.report.flow import Strip
from rewire.report.section import Block, Section, Table


def section_strips(section: Section, width: float) -> list[Strip]:
    """A heading and the blocks under it; nothing for a section without blocks."""
    if not section.blocks:
        return []
    strips = [heading(section.title, width)]
    for number, block in enumerate(section.blocks):
        strips += _block(block, width, leads=_leads(section, number))
    return strips


def _leads(section: Section, number: int) -> bool:
    """Whether words stand right before a table that they speak of."""
    following = section.blocks[number + 1 : number + 2]
    return any(isinstance(block, Table) for block in following)


def _block(block: Block, width: float, leads: bool) -> Iterator[Strip]:
    if isinstance(block, Table):
        if block.title:
            yield from paragraph(block.title, width, bold=True, gap=3.0, with_next=True)
        yield from table(block.head, block.rows, block.shares, width)
    elif block.mark:
        yield from marked(block.mark, block.text, width, bold=block.bold)
    else:
        yield from paragraph(
            block.text, width, bold=block.bold, gap=3.0 if leads else 1.5, with_next=leads
        )
