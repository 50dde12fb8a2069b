"""A list of moves, with a box to tick before each step; the same for machines."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from itertools import groupby

from rewire.bench.work_list import DO_NOT_BUILD, LivePoints, Moves, WorkStep, heading_of
from rewire.report.machine import JSON, Keys, as_json
from rewire.report.section import Block, ReportSection, Table, Words, row
from rewire.words.wire import COLOURS

_HALF = 38
"""Columns of half a line of 80."""


def sections(moves: Moves) -> Iterator[ReportSection]:
    """The summary, cautions and what is live, then the steps stage by stage."""
    yield ReportSection("moves", "", tuple(_head(moves)))
    if not moves.steps:
        return
    live = [Words(f"{one.volts.said}: {', '.join(one.lugs)}", "-", indent=2) for one in moves.live]
    yield ReportSection("live", "Live while there is power", tuple(live))
    blocks: list[Block] = []
    for stage, steps in groupby(moves.steps, key=lambda step: step.stage):
        blocks += [Words(f"{heading_of(moves, stage)}:"), *_stage(list(steps))]
    yield ReportSection("steps", "", (*blocks, *_colours(moves)))


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
        (kinds.count("free"), "lug is unsoldered", "lugs are unsoldered"),
        (kinds.count("join"), "lug is connected", "lugs are connected"),
        (kinds.count("take-out"), "part comes out", "parts come out"),
        (kinds.count("mount"), "part goes in", "parts go in"),
    )
    return ", ".join(f"{n} {one if n == 1 else many}" for n, one, many in counted if n)


def _stage(steps: Sequence[WorkStep]) -> Iterator[Block]:
    """Steps of few words two on a line, all others a line or a sentence each."""
    for halves, own in groupby(steps, key=_takes_half):
        run = list(own)
        if halves:
            texts = [f"{_box(step)} {_brief(step)}" for step in run] + [""] * (len(run) % 2)
            pairs = zip(texts[::2], texts[1::2], strict=True)
            yield Table(("", ""), tuple(row(*pair) for pair in pairs))
            continue
        for step in run:
            yield Words(_brief(step), _box(step), indent=2)
            yield from (Words(said, "!", tone="bad", indent=11) for said in _cautions(step))
            if step.note and step.short is None:
                yield Words(step.note, "note:", tone="faint", indent=11)


def _takes_half(step: WorkStep) -> bool:
    text = f"{_box(step)} {_brief(step)}"
    return step.short is not None and not [*_cautions(step)] and len(text) <= _HALF


def _brief(step: WorkStep) -> str:
    """``S3.A1 BU W8 to S4.C``."""
    if step.short is not None:
        return " ".join(filter(None, (step.lug, step.colour, step.short)))
    if step.kind != "measure":
        return step.text
    at = [" ".join(state.values()) for state in step.states] or [""]
    said = [f"{where} {should}".strip() for where, should in zip(at, step.expects, strict=False)]
    expected = f", should be {', '.join(said)}" if said else ""
    return f"Measure {step.place} to {step.destination}{expected}"


def _box(step: WorkStep) -> str:
    return f"[ ] {step.number:>3}."


def _cautions(step: WorkStep) -> Iterator[str]:
    if step.caution:
        yield step.caution
    if not step.reversible:
        yield "cannot be undone"


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
