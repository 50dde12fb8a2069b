"""A list of moves, with a box to tick before each step; the same for machines."""

from __future__ import annotations

from collections import Counter, defaultdict
from collections.abc import Iterator, Sequence
from dataclasses import fields
from itertools import groupby

from rewire.bench.work_list import DO_NOT_BUILD, LivePoints, Moves, WorkStep, heading_of
from rewire.report.machine import JSON, Keys, as_json
from rewire.report.section import Block, ReportSection, Row, Words, warning
from rewire.words.wire import COLOURS


def sections(moves: Moves) -> Iterator[ReportSection]:
    """The summary with cautions and what is live, then the steps stage by stage."""
    blocks: list[Block] = [*_head(moves)]
    for heading, own in groupby(moves.steps, key=lambda step: heading_of(moves, step.stage)):
        steps = list(own)
        stands = any("≥" in (step.short or "") for step in steps)
        heading += " (≥ V: insulation)" * stands
        blocks += [Words(f"{heading}:"), *_stage(steps)]
    yield ReportSection("moves", "", (*blocks, *_colours(moves)))


def live_lugs(moves: Moves) -> str:
    """The lugs at each voltage: ``Can be live: 540 V at SCREEN_TAP, S3 A/A3``."""
    at: dict[str, list[str]] = defaultdict(list)
    for one in moves.live:
        at[one.volts.figure] += one.lugs
    told = (f"{volts} at {_part_by_part(lugs)}" for volts, lugs in at.items())
    return f"Can be live: {'; '.join(told)}."


def _part_by_part(lugs: Sequence[str]) -> str:
    """``SCREEN_TAP, S3 A/A3``: as pictures name lugs, each part on one line."""
    own: dict[str, list[str]] = defaultdict(list)
    for part, _, lug in (name.partition(".") for name in lugs):
        own[part] += [lug] if lug else []
    told = (f"{part}\u00a0{'/'.join(named)}" if named else part for part, named in own.items())
    return ", ".join(told)


def _head(moves: Moves) -> Iterator[Words]:
    if moves.broken:
        yield Words(f"{moves.target}: {DO_NOT_BUILD}", "BROKEN:", tone="bad")
    way = f"{moves.source} → {moves.target}"
    if not moves.steps:
        yield Words(f"{way}: nothing to do, they are wired alike")
        return
    yield Words(f"{way}: {_summary(moves)}", tone="bad" if moves.broken else "good")
    yield from map(warning, moves.cautions)
    if moves.live:
        yield Words(live_lugs(moves))


def _summary(moves: Moves) -> str:
    kinds = Counter(step.kind for step in moves.steps)
    lifted = {(s.wire, bool(s.destination)) for s in moves.steps if s.kind == "lift" and s.wire}
    out = {wire for wire, stays in lifted if not stays}
    out = out.union(*(step.leaves_with for step in moves.steps))
    counted = {
        "wires": {
            "kept": len(moves.stays), "moved": sum(stays for _, stays in lifted),
            "out": len(out), "new": kinds["wire"],
        },
        "parts": {"out": kinds["take-out"], "in": kinds["mount"]},
    }  # fmt: skip
    told = {
        what: ", ".join(f"{n} {does}" for does, n in of.items() if n)
        for what, of in counted.items()
    }
    said = "; ".join(f"{what} {how}" for what, how in told.items() if how)
    return said or f"{len(moves.steps)} steps"


def _stage(steps: Sequence[WorkStep]) -> Iterator[Block]:
    """Steps beside each other where there is room; one with a caution alone."""
    for cautions, own in groupby(steps, key=lambda step: tuple(_cautions(step))):
        if not cautions:
            yield Row(tuple(f"{_box(step)} {_brief(step)}" for step in own))
            continue
        for step in own:
            yield Words(_brief(step), _box(step), indent=2)
            yield from (Words(said, "!", tone="bad", indent=10) for said in cautions)


def _brief(step: WorkStep) -> str:
    """``S3.A1 BU W8 to S4.C``."""
    if step.short is not None:
        return " ".join(filter(None, (step.lug, step.colour, step.short)))
    note = f" ({step.note})" if step.note else ""
    if step.kind != "measure":
        return f"{step.text}{note}"
    at: dict[str, list[str]] = defaultdict(list)
    for state, ohms in zip(step.states or ({},), step.expects, strict=False):
        at[ohms] += [" ".join(state.values())] if state else []
    said = [f"{ohms} in {', '.join(names)}" if names else ohms for ohms, names in at.items()]
    return f"Read {step.place} to {step.destination}: {'; '.join(said)}{note}"


def _box(step: WorkStep) -> str:
    return f"[ ] {step.number:>2}."


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
    WorkStep: " ".join([*(field.name for field in fields(WorkStep)), "words=short"]),
}
