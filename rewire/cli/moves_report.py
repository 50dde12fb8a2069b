"""A list of moves in plain text, with a box to tick before each step."""

from __future__ import annotations

import textwrap
from collections.abc import Iterator, Sequence
from itertools import groupby

from rewire.bench.moves import measured
from rewire.bench.work_list import DO_NOT_BUILD, STAGES, Moves, Step
from rewire.cli.terminal import Line, Mark, visible, width
from rewire.compare.words import listing
from rewire.words.colours import COLOURS

_COLOUR = 4
_WIDEST_LUG = 20
_BLANK = "______"


Said = Line | str
"""A line to be fitted to the terminal, or one that stands in columns."""


def report(results: Sequence[Moves]) -> Iterator[Said]:
    """All lists, one after the other."""
    for number, moves in enumerate(results):
        if number:
            yield Line("")
        yield from _one(moves)


def _one(moves: Moves) -> Iterator[Said]:
    if moves.broken:
        yield Line(f"{moves.target}: {DO_NOT_BUILD}", label="BROKEN:", mark="bad")
    if not moves.steps:
        yield Line(f"{moves.source} → {moves.target}: nothing to do, they are wired alike")
        return
    mark: Mark = "bad" if moves.broken else "good"
    yield Line(f"{moves.source} → {moves.target}: {_summary(moves)}", mark=mark)
    for caution in moves.cautions:
        yield Line(caution, 2, "!", "bad")
    yield from _live(moves)
    yield from _differences(moves)
    yield from _stays(moves)
    for stage, steps in groupby(moves.steps, key=lambda step: step.stage):
        yield Line("")
        yield Line(f"{STAGES[stage]}:")
        yield from _stage(list(steps))
    yield from _colours(moves)


def _live(moves: Moves) -> Iterator[Line]:
    """Each lug's volts, once: the steps are done dead."""
    if moves.live:
        yield Line("")
        yield Line("Live while there is power:")
    for one in moves.live:
        yield Line(f"{one.volts.said}: {', '.join(one.lugs)}", 2, "-")


def _summary(moves: Moves) -> str:
    kinds = [step.kind for step in moves.steps]
    counted = (
        (len(moves.stays), "wire stays", "wires stay"),
        (len(_moved(moves)), "wire is moved", "wires are moved"),
        (len(_out(moves)), "wire comes out", "wires come out"),
        (kinds.count("wire"), "new wire or lead", "new wires and leads"),
        (kinds.count("free"), "lug is cleared", "lugs are cleared"),
        (kinds.count("join"), "lug is joined on", "lugs are joined on"),
        (kinds.count("take-out"), "part comes out", "parts come out"),
        (kinds.count("mount"), "part goes in", "parts go in"),
    )
    return ", ".join(f"{n} {one if n == 1 else many}" for n, one, many in counted if n)


def _moved(moves: Moves) -> set[str]:
    return {s.wire for s in moves.steps if s.kind == "lift" and s.wire and s.destination}


def _out(moves: Moves) -> set[str]:
    lifted = {s.wire for s in moves.steps if s.kind == "lift" and s.wire and not s.destination}
    return lifted.union(*(step.leaves_with for step in moves.steps))


def _differences(moves: Moves) -> Iterator[Line]:
    if not moves.differences:
        return
    yield Line("")
    yield Line(f"What {moves.target} means to do otherwise than the original:")
    for one in moves.differences:
        why = f": {one.why}" if one.why else ""
        final = "" if one.reversible else "; cannot be undone"
        yield Line(f"{one.kind} {', '.join(one.about)}{why}{final}", 2, "-")


def _stays(moves: Moves) -> Iterator[Line]:
    if not moves.stays + moves.nets_stay + moves.parts_stay:
        return
    yield Line("")
    yield Line("Stays as it is:")
    for stay in moves.stays:
        names = " ".join(word for word in (stay.told, stay.colour) if word)
        note = f"; {stay.note}" if stay.note else ""
        yield Line(f"{names}: {stay.ends[0]} to {stay.ends[1]}{note}", 2, "-")
    for group in moves.nets_stay:
        yield Line(f"{listing(group)} stay joined, by whatever wires join them now", 2, "-")
    if moves.parts_stay:
        yield Line(f"parts: {', '.join(moves.parts_stay)}", 2, "-")


def _stage(steps: Sequence[Step]) -> Iterator[Said]:
    """Steps at a lug in columns, lug and colour first; all others as sentences."""
    lugs = [step.lug for step in steps if step.lug]
    wide = max((len(lug) for lug in lugs), default=0)
    for step in steps:
        if step.lug:
            yield from _row(step, min(wide, _WIDEST_LUG))
        else:
            yield from _sentence(step)


def _row(step: Step, wide: int) -> Iterator[Said]:
    told = [word for word in (step.words, step.note) if word]
    lug, colour = step.lug or "", step.colour or ""
    head = f"  {_box(step)} {lug:<{wide}}  {colour:<{_COLOUR}}  "
    said = visible("; ".join(told))
    yield from textwrap.wrap(
        said, width(), initial_indent=head, subsequent_indent=" " * min(len(head), 30),
        break_long_words=False, break_on_hyphens=False,
    )  # fmt: skip
    if step.caution:
        yield Line(step.caution, 11, "!", "bad")
    yield from _why(step)


def _sentence(step: Step) -> Iterator[Said]:
    yield Line(_text(step), 2, _box(step))
    if step.caution:
        yield Line(step.caution, 11, "!", "bad")
    yield from _why(step)
    if step.note:
        yield Line(step.note, 11, "note:", "faint")


def _why(step: Step) -> Iterator[Said]:
    if step.why:
        final = "" if step.reversible else "; cannot be undone"
        yield Line(f"{step.why}{final}", 11, "why:", "faint")


def _box(step: Step) -> str:
    return f"[ ] {step.number:>3}."


def _text(step: Step) -> str:
    if step.kind != "measure":
        return step.text
    blanks = [f"{at} {_BLANK} ohm{should}".strip() for at, should in measured(step)]
    return f"Measure {step.place} to {step.destination}: {', '.join(blanks)}"


def _colours(moves: Moves) -> Iterator[Line]:
    """What the letters stand for: nobody at a bench should have to look them up."""
    used = {step.colour for step in moves.steps if step.colour}
    pairs = {colour[n : n + 2] for colour in used for n in range(0, len(colour), 2)}
    if pairs:
        yield Line("")
        said = ", ".join(
            f"{letters} {name}" for letters, name in COLOURS.items() if letters in pairs
        )
        yield Line(f"Colours (IEC 60757): {said}")
