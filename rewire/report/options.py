"""Other movements for a plan, a row each: coil, pots, shunts and multipliers, what the set sees."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Collection, Iterator, Sequence
from math import isinf

from rewire.report.section import Cell, ReportSection, Table, Words, used_columns
from rewire.values.answers import OptionPart, OptionRow
from rewire.words.quantity import in_ohms, with_unit

_WHOSE = {"plan": "planned", "stock": "stock", "option": ""}
_SEEN = "set sees"


def options_section(rows: Sequence[OptionRow]) -> ReportSection:
    """The table, and under it why a movement cannot work; empty where there is nothing to tell."""
    whys = (Words(f"{movement(one)}: {one.why}", "!", indent=2) for one in rows if one.why)
    return ReportSection(
        "options", "Other movements in this plan", (options_table(rows), *whys) if rows else ()
    )


def movement(row: OptionRow) -> str:
    """``500 µA, 170 Ω``."""
    return ", ".join(filter(None, (_full_scale(row), _coil(row))))


def _full_scale(row: OptionRow) -> str:
    volts, amps = row.full_scale_volts, row.full_scale_amps
    return with_unit(volts, "V") if amps is None else with_unit(amps, "A")


def _coil(row: OptionRow) -> str:
    return "" if row.resistance is None else in_ohms(row.resistance)


def options_table(rows: Sequence[OptionRow]) -> Table:
    """A row for each movement; the planned one is bold."""
    parts = list(dict.fromkeys(part.part for row in rows for part in row.parts))
    pots = _pots([part for row in rows for part in row.parts])
    named = (f"{name} {pots[name]}" if name in pots else name for name in parts)
    head = ("movement", "coil", "", *named, _SEEN)
    lines = [tuple(_cells(row, parts, pots)) for row in rows]
    return used_columns(Table(head, tuple(lines)), ("movement",))


def _pots(parts: Sequence[OptionPart]) -> dict[str, str]:
    """Pots that have the same ohms with every movement: those stand at the head."""
    ohms: dict[str, set[str]] = defaultdict(set)
    for part in parts:
        fixed = part.ohms is None or part.setting_percent is None
        ohms[part.part].add("" if fixed else in_ohms(part.ohms))
    return {name: next(iter(said)) for name, said in ohms.items() if len(said) == 1 and all(said)}


def _cells(row: OptionRow, parts: Sequence[str], pots: Collection[str]) -> Iterator[Cell]:
    bold, own = row.whose == "plan", {part.part: part for part in row.parts}
    yield Cell(_full_scale(row), bold=bold)
    yield Cell(_coil(row), bold=bold)
    if not row.works:
        yield Cell("cannot work", bold=True)
        yield from [Cell("–")] * (len(parts) + 1)
        return
    yield Cell(_WHOSE[row.whose], bold=bold)
    for name in parts:
        said = _fitted(own[name]) if name in own else "none"
        yield Cell(said.partition(", ")[2] if name in own and name in pots else said, bold=bold)
    seen = [one.insertion_ohms for one in row.readings]
    said = ", ".join("?" if o is None else "no path" if isinf(o) else in_ohms(o, 3) for o in seen)
    yield Cell(said, bold=bold)


def _fitted(part: OptionPart) -> str:
    if part.ohms is None:
        return "no value"
    if part.setting_percent is None:
        return in_ohms(part.ohms)
    return f"{in_ohms(part.ohms)}, {part.setting_percent:.0f} %"
