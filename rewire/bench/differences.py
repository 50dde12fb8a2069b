"""A wiring told by what is different from another: wires in, out and cut, parts replaced."""

from __future__ import annotations

from collections.abc import Callable, Collection

from rewire.bench.by_hand import Block
from rewire.bench.told import VALUES, Difference, switch_told, timing_told, values_told
from rewire.records.spec import CUT
from rewire.words.wording import Wrong, known_here, listed, shown


def differ(block: Block, one: Difference, lugs: Callable[[], Collection[str]]) -> None:
    """Make a difference in a wiring.

    Args:
        block: parts and wires, a wire as from, to and colour; it is changed.
        one: what is different.
        lugs: gives every lug that the wiring's parts have, once a part was replaced.

    Raises:
        Wrong: there is no such wire, or no such part.
    """
    if one.does == "is":
        _replace(block, one)
        block["wires"] = _left(block["wires"], one.name, lugs())
        return
    wires = block["wires"]
    at = next((n for n, wire in enumerate(wires) if {*wire[:2]} == {one.end, one.to}), None)
    if one.does == "in":
        if at is not None:
            raise Wrong(f"a wire from {one.end} to {one.to} is there already")
        wires.append([one.end, one.to, one.colour])
        return
    if at is None:
        there = [a if b == one.end else b for a, b, *_ in wires if one.end in (a, b)]
        hint = f"on {one.end}: {listed(there)}" if there else f"nothing is on {one.end}"
        raise Wrong(f"no wire from {one.end} to {one.to}", hint)
    wires[at : at + 1] = [[one.to, CUT, wires[at][2]]] if one.does == "cut" else []


def _replace(block: Block, one: Difference) -> None:
    """Put another part in the place of one, and its wires on the lugs of the same names."""
    old = block["parts"].get(one.end)
    if old is None:
        raise Wrong(f"no part {shown(one.end)} here", known_here(block["parts"]))
    new = _switch(old, one.to) if "switch" in old else _part(old, one)
    block["parts"] = {
        one.name if name == one.end else name: new if name == one.end else part
        for name, part in block["parts"].items()
    }
    block["wires"] = [
        [_renamed(wire[0], one), _renamed(wire[1], one), wire[2]] for wire in block["wires"]
    ]


def _switch(old: Block, said: str) -> Block:
    said, _, timing = said.partition(",")
    form = switch_told(said)
    if form is None:
        raise Wrong("say its form here", "write S1 is DP3T, non-shorting")
    kept: Block = {key: old[key] for key in ("control", "style") if key in old}
    return {"switch": form[0], **kept, "timing": timing_told(timing.strip() or "unknown")}


def _part(old: Block, one: Difference) -> Block:
    kind = next(key for key in VALUES if key in old)
    role = {"replaces": one.end} if one.name != one.end else {}
    return {**values_told(kind, one.to), **role}


def _renamed(end: str, one: Difference) -> str:
    name, dot, lug = end.partition(".")
    return f"{one.name}.{lug}" if dot and name == one.end else end


def _left(wires: list[list[str]], part: str, lugs: Collection[str]) -> list[list[str]]:
    """The wires once a part has other lugs: on those that it lacks they are cut off."""
    left = []
    for one, other, colour in wires:
        kept = [end for end in (one, other) if not end.startswith(f"{part}.") or end in lugs]
        away = [end for end in kept if end != CUT and not end.startswith(f"{part}.")]
        if len(kept) == 2:
            left.append([one, other, colour])
        elif away:
            left.append([away[0], CUT, colour])
    return left
