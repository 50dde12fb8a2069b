"""Sections of the sheet as rows that know which lugs, wires and parts they speak of."""

from __future__ import annotations

import re
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass, replace

from rewire.bench.work_list import STAGES
from rewire.records.spec import Spec, Wiring
from rewire.report.content.buzzing import buzzing_sections
from rewire.report.content.found import found_section
from rewire.report.content.handover import acceptance_section, document_section, log_section
from rewire.report.content.options import options_section
from rewire.report.content.parts import parts_section
from rewire.report.content.record import owner_sections, record_sections
from rewire.report.content.trials import bench_sections, calibration_sections
from rewire.report.content.wires import wires_sections
from rewire.report.content.work import work_sections
from rewire.report.packet import Packet
from rewire.report.page.pictures import Picture
from rewire.report.section import Cell, Section, Table, Words, used_columns

_NAME = re.compile(r"[A-Za-z][A-Za-z0-9_-]*(?:\.[A-Za-z0-9_+-]+)?")
_MOST = 400
"""Characters of a cell that are searched for names."""
_STAGES = frozenset(STAGES.values())
NARROW = 22
"""Characters that a column of a phone still holds."""


@dataclass(frozen=True, slots=True)
class Row:
    """A row of a table; ``about`` names what lights up with it."""

    cells: tuple[Cell, ...]
    about: str
    number: int


@dataclass(frozen=True, slots=True)
class Grid:
    """A table of the page."""

    head: tuple[str, ...]
    rows: tuple[Row, ...]
    title: str
    number: int
    labels: tuple[str, ...]
    """On a phone each row of a wordy table is a card: what stands before each of its cells, empty
    for none. No labels at all: it stays a table there."""
    shares: tuple[int, ...]
    """Widths of the columns, in percent of all."""


@dataclass(frozen=True, slots=True)
class Chapter:
    """A section of the page; ``wiring`` is its number where it is about one alone, else -1."""

    key: str
    id: str
    title: str
    blocks: tuple[Grid | Words | Picture, ...]
    wiring: int


def chapters_of(packet: Packet) -> Iterator[Chapter]:
    """All sections that are words and tables alone."""
    known = _Known.of(packet.spec, packet.wirings)
    for number, section in enumerate(_sections(packet)):
        if section.blocks:
            yield _chapter(section, number, -1, known)
    lists = zip(packet.wirings, wires_sections(packet), strict=True)
    for number, (wiring, section) in enumerate(lists):
        mine = _Known.of(packet.spec, [wiring], wires=True)
        if section.blocks:
            yield _chapter(section, number, number, mine)


def _sections(packet: Packet) -> Iterator[Section]:
    yield found_section(packet.spec, packet.wirings)
    yield parts_section(packet)
    yield from work_sections(packet)
    yield options_section(packet)
    yield from buzzing_sections(packet)
    yield from bench_sections(packet)
    yield from calibration_sections(packet)
    yield acceptance_section(packet.spec)
    yield log_section(packet)
    yield from record_sections(packet)
    yield from owner_sections(packet)
    yield document_section(packet.spec)


@dataclass(frozen=True, slots=True)
class _Known:
    """Names that a row may speak of, and how the script calls what bears them."""

    called: dict[str, str]

    @classmethod
    def of(cls, spec: Spec, wirings: Iterable[Wiring], wires: bool = False) -> _Known:
        called = {name: f"t:{name}" for name in spec.points}
        for wiring in wirings:
            for part in spec.parts_of(wiring).values():
                called[part.name] = f"p:{part.name}"
                called.update((t, f"t:{t}") for t in map(part.terminal, part.terminals))
            if wires:
                called.update((wire.id, f"w:{wire.id}") for wire in wiring.wires)
        return cls(called)

    def about(self, cells: Sequence[Cell]) -> str:
        """What a row is about: a wire alone if its first word is one, else all it names."""
        names = [n for cell in cells for n in _NAME.findall(cell.text[:_MOST])]
        found = dict.fromkeys(self.called[name] for name in names if name in self.called)
        first = next(iter(found), "")
        return first if first.startswith("w:") else " ".join(found)


def _chapter(section: Section, number: int, wiring: int, known: _Known) -> Chapter:
    blocks = tuple(
        _grid(_staged(block) if section.key == "work" else block, n, known)
        if isinstance(block, Table)
        else block
        for n, block in enumerate(section.blocks)
    )
    return Chapter(section.key, f"{section.key}-{number}", section.title, blocks, wiring)


def _staged(table: Table) -> Table:
    """The stage of the work as the table's title: on paper it is the head of a column."""
    stage = next((head for head in table.head if head in _STAGES), None)
    if table.title or stage is None:
        return table
    head = tuple("" if each == stage else each for each in table.head)
    rows = tuple(tuple(map(_emptied, cells)) for cells in table.rows)
    return used_columns(replace(table, title=stage, head=head, rows=rows), ("",))


def _emptied(cell: Cell) -> Cell:
    """A cell with nothing in it is just that, however it would be set."""
    return cell if cell.text or cell.colour or cell.box or cell.blank else Cell()


def _grid(table: Table, number: int, known: _Known) -> Grid:
    rows = tuple(Row(cells, known.about(cells), n) for n, cells in enumerate(table.rows))
    columns = zip(*table.rows, strict=True)
    wordy = [n for n, c in enumerate(columns) if max(len(one.text) for one in c) > NARROW]
    labels = _labels(table, wordy)
    shares = tuple(round(100 * share / sum(table.shares)) for share in table.shares)
    return Grid(table.head, rows, table.title, number, labels, shares)


def _labels(table: Table, wordy: Sequence[int]) -> tuple[str, ...]:
    """Nothing before what comes first, up to the first column of many words."""
    ticked = any(line[0].box for line in table.rows)
    if not wordy or (len(wordy) == 1 and not ticked):
        return ()
    first = wordy[0] + (1 if ticked else 0)
    return tuple(head if n >= first else "" for n, head in enumerate(table.head))
