"""A list of moves, with a box to tick before each step; the same for machines."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from itertools import groupby

from rewire.bench.moves import measured
from rewire.bench.work_list import DO_NOT_BUILD, STAGES, LivePoints, Moves, WorkStep
from rewire.records.spec import change_said
from rewire.report.machine import JSON, Keys, as_json
from rewire.report.section import ReportSection, Words
from rewire.words.wire import COLOURS
from rewire.words.wording import listing

_COLOUR = 4
"""Letters that the column of colours is wide."""
_WIDEST_LUG = 20
_BLANK = "______"


def sections(moves: Moves) -> Iterator[ReportSection]:
    """The summary, what is live, differs and stays, then the steps stage by stage."""
    yield ReportSection("moves", "", tuple(_head(moves)))
    if not moves.steps:
        return
    live = [Words(f"{one.volts.said}: {', '.join(one.lugs)}", "-", indent=2) for one in moves.live]
    yield ReportSection("live", "Live while there is power", tuple(live))
    yield _differences(moves)
    yield ReportSection("stays", "Stays as it is", tuple(_stays(moves)))
    for stage, steps in groupby(moves.steps, key=lambda step: step.stage):
        yield ReportSection("steps", STAGES[stage], tuple(_stage(list(steps))))
    yield ReportSection("colours", "", tuple(_colours(moves)))


def _head(moves: Moves) -> Iterator[Words]:
    if moves.broken:
        yield Words(f"{moves.target}: {DO_NOT_BUILD}", "BROKEN:", tone="bad")
    way = f"{moves.source} → {moves.target}"
    if not moves.steps:
        yield Words(f"{way}: nothing to do, they are wired alike")
        return
    yield Words(f"{way}: {_summary(moves)}", tone="bad" if moves.broken else "good")
    yield from (Words(caution, "!", tone="bad", indent=2) for caution in moves.cautions)


def _summary(moves: Moves) -> str:
    kinds = [step.kind for step in moves.steps]
    lifted = {(s.wire, bool(s.destination)) for s in moves.steps if s.kind == "lift" and s.wire}
    out = {wire for wire, stays in lifted if not stays}
    out = out.union(*(step.leaves_with for step in moves.steps))
    counted = (
        (len(moves.stays), "wire stays", "wires stay"),
        (sum(stays for _, stays in lifted), "wire is moved", "wires are moved"),
        (len(out), "wire comes out", "wires come out"),
        (kinds.count("wire"), "new wire or lead", "new wires and leads"),
        (kinds.count("free"), "lug is cleared", "lugs are cleared"),
        (kinds.count("join"), "lug is joined on", "lugs are joined on"),
        (kinds.count("take-out"), "part comes out", "parts come out"),
        (kinds.count("mount"), "part goes in", "parts go in"),
    )
    return ", ".join(f"{n} {one if n == 1 else many}" for n, one, many in counted if n)


def _differences(moves: Moves) -> ReportSection:
    lines = [
        Words(f"{change_said(one.kind, one.about)}{f': {one.why}' if one.why else ''}"
              f"{_final(one.reversible)}", "-", indent=2)
        for one in moves.differences
    ]  # fmt: skip
    return ReportSection("differences", "Intended differences from the original", tuple(lines))


def _final(reversible: bool) -> str:
    return "" if reversible else "; cannot be undone"


def _stays(moves: Moves) -> Iterator[Words]:
    for stay in moves.stays:
        names = " ".join(word for word in (stay.told, stay.colour) if word)
        note = f"; {stay.note}" if stay.note else ""
        yield Words(f"{names}: {stay.ends[0]} to {stay.ends[1]}{note}", "-", indent=2)
    for group in moves.nets_stay:
        said = f"{listing(group)} stay joined, by whatever wires join them now"
        yield Words(said, "-", indent=2)
    if moves.parts_stay:
        yield Words(f"parts: {', '.join(moves.parts_stay)}", "-", indent=2)


def _stage(steps: Sequence[WorkStep]) -> Iterator[Words]:
    """Steps at a lug in columns, lug and colour first; all others as sentences."""
    wide = min(max((len(step.lug or "") for step in steps), default=0), _WIDEST_LUG)
    for step in steps:
        box = f"[ ] {step.number:>3}."
        if step.lug:
            mark = f"{box} {step.lug:<{wide}}  {step.colour or '':<{_COLOUR}} "
            yield Words("; ".join(filter(None, (step.words, step.note))), mark, indent=2)
        else:
            yield Words(_text(step), box, indent=2)
        if step.caution:
            yield Words(step.caution, "!", tone="bad", indent=11)
        if step.why:
            yield Words(f"{step.why}{_final(step.reversible)}", "why:", tone="faint", indent=11)
        if step.note and not step.lug:
            yield Words(step.note, "note:", tone="faint", indent=11)


def _text(step: WorkStep) -> str:
    if step.kind != "measure":
        return step.text
    blanks = [f"{at} {_BLANK} ohm{should}".strip() for at, should in measured(step)]
    return f"Measure {step.place} to {step.destination}: {', '.join(blanks)}"


def _colours(moves: Moves) -> Iterator[Words]:
    """What the letters stand for: nobody at a bench should have to look them up."""
    used = {step.colour for step in moves.steps if step.colour}
    pairs = {colour[n : n + 2] for colour in used for n in range(0, len(colour), 2)}
    if pairs:
        names = (f"{letters} {name}" for letters, name in COLOURS.items() if letters in pairs)
        yield Words(f"Colours (IEC 60757): {', '.join(names)}")


def result_as_json(moves: Moves) -> JSON:
    """One list, as ``rewire moves`` gives it; lengths are metres, all else is text."""
    told: JSON = as_json(moves, _KEYS)
    return told


def _live(one: LivePoints) -> JSON:
    return {**as_json(one.volts, {}), "lugs": one.lugs}


_KEYS: Keys = {
    Moves: "from=source to=target stays parts_stay nets_stay steps differences cautions live tags "
    "broken",
    LivePoints: _live,
}
