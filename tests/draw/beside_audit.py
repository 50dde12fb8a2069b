"""Whether a side-by-side picture shows everything of both wirings, and that once."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator, Sequence

from rewire.draw.scene import Scene
from rewire.records.part import Part
from rewire.records.spec import Spec, Wiring
from rewire.records.switches import Switch


def audit_beside(
    scenes: Sequence[Scene],
    spec: Spec,
    wiring: Wiring,
    before: Sequence[Switch],
    after: Sequence[Switch],
) -> list[str]:
    """What the sheets show too often or not at all: lugs, wires, jumpers, leads."""
    seen = Counter(s.shows for scene in scenes for s in scene.symbols
                   if s.shows.startswith("lug:") and s.kind != "joint")  # fmt: skip
    for scene in scenes:
        seen.update(line.shows for line in scene.lines if not line.shows.startswith("jumper:"))
    ends = Counter[str]()
    for scene in scenes:
        for line in scene.lines:
            if line.shows.startswith("jumper:"):
                ends[line.shows] += len(line.joins)
    due = [*_due(spec, spec.original, before), *_due(spec, wiring, after)]
    return [
        f"{shows} is shown {(ends if jumper else seen)[shows]} times, not {count}"
        for shows, count, jumper in due
        if (ends if jumper else seen)[shows] != count
    ]


def _due(spec: Spec, wiring: Wiring, switches: Sequence[Switch]) -> Iterator[tuple[str, int, bool]]:
    """What is to be seen, how often, and whether it is a jumper, whose ends are counted."""
    own = {switch.name for switch in switches}
    where = f" in {wiring.name}"
    for switch in switches:
        yield from ((f"lug:{switch.terminal(lug)}{where}", 1, False) for lug in switch.terminals)
    for wire in wiring.wires:
        parts = [end.partition(".")[0] for end in wire.ends]
        if parts[0] == parts[1] and parts[0] in own:
            yield f"jumper:{wire.id}{where}", 2, True
            continue
        count = sum(part in own for part in parts)
        if count:
            yield f"wire:{wire.id}{where}", count, False
    for part in spec.parts_of(wiring).values():
        yield from ((f"part:{lead}{where}", 1, False) for lead in _leads(part, own))


def _leads(part: Part, own: set[str]) -> Iterator[str]:
    for lug, place in zip(part.terminals, part.between or (), strict=False):
        if "." in place and place.partition(".")[0] in own:
            yield part.terminal(lug)
