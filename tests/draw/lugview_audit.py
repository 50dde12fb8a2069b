"""Whether the sheets of a lug view show everything that lands on the switch, and that once."""

from __future__ import annotations

from collections import Counter, defaultdict
from collections.abc import Iterable, Iterator, Sequence

from rewire.draw.scene import Line, Scene, visible
from rewire.records.part import Part
from rewire.records.spec import Spec, Wiring
from rewire.records.switches import Switch


def audit_lug_view(
    scenes: Sequence[Scene], spec: Spec, wiring: Wiring, switch_name: str
) -> list[str]:
    """What the sheets together show too often or not at all: lugs, wires, jumpers, leads."""
    switch = spec.parts_of(wiring)[switch_name]
    symbols = Counter(s.shows for scene in scenes for s in scene.symbols if s.kind != "joint")
    lines = [line for scene in scenes for line in scene.lines]
    branches = Counter(line.shows for line in lines)
    wanted = [(f"lug:{lug}", symbols[f"lug:{lug}"], 1) for lug in switch.terminals]
    for wire in wiring.wires:
        ends = [end for end in wire.ends if end.partition(".")[0] == switch_name]
        if len(ends) == 1:
            wanted.append((f"wire:{wire.id}", branches[f"wire:{wire.id}"], 1))
        elif ends:
            wanted.append((f"jumper:{wire.id}", _jumper_seen(wire.id, lines), 2))
    wanted.extend(
        (f"part:{lead}", branches[f"part:{lead}"], 1)
        for lead in _leads(spec.parts_of(wiring).values(), switch)
    )
    trouble = [
        f"{what} is shown {seen} times, not {due}" for what, seen, due in wanted if seen != due
    ]
    return [*trouble, *_unsaid(scenes, wiring, switch)]


def _unsaid(scenes: Sequence[Scene], wiring: Wiring, switch: Part) -> Iterator[str]:
    """Lugs without a name, wires and jumpers without number, colour letters or destination."""
    said: dict[str, str] = defaultdict(str)
    for scene in scenes:
        for text in scene.texts:
            said[text.shows] += "".join(text.text.split())
    for lug in switch.terminals:
        if not {f"lug:{lug}", f"again:{lug}"} & said.keys():
            yield f"lug:{lug} bears no name"
    for wire in wiring.wires:
        own = [end for end in wire.ends if end.partition(".")[0] == switch.name]
        far = [end for end in wire.ends if end not in own] if len(own) == 1 else []
        due = [wire.id, wire.colour or "", *far] if len(own) == 1 else [wire.id]
        for word in due if own else ():
            if "".join(visible(word).split()) not in said[f"{_kind(own)}:{wire.id}"]:
                yield f"{_kind(own)}:{wire.id} does not say {word}"


def _kind(own: Sequence[str]) -> str:
    return "wire" if len(own) == 1 else "jumper"


def _jumper_seen(name: str, lines: Iterable[Line]) -> int:
    """Ends shown: a drawn jumper shows two, a label one."""
    own = [line for line in lines if line.shows == f"jumper:{name}"]
    return sum(len(line.joins) for line in own)


def _leads(parts: Iterable[Part], switch: Part) -> Iterator[str]:
    if not isinstance(switch, Switch):
        return
    for part in parts:
        for own, place in zip(part.terminals, part.between or (), strict=False):
            if place.partition(".")[0] == switch.name and "." in place:
                yield part.terminal(own)
