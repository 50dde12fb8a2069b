"""Whether the sheets of a lug view show everything that is soldered to the switch."""

from __future__ import annotations

from collections import Counter, defaultdict
from collections.abc import Iterator, Sequence

from rewire.draw.scene import Scene, visible
from rewire.records.spec import Spec, Wire, Wiring


def audit_lug_view(
    scenes: Sequence[Scene], spec: Spec, wiring: Wiring, switch_name: str
) -> list[str]:
    """What the sheets together show too often or not at all: lugs, wires, jumpers, parts."""
    switch = spec.parts_of(wiring)[switch_name]
    symbols = Counter(s.shows for scene in scenes for s in scene.symbols)
    said: dict[str, str] = defaultdict(str)
    for scene in scenes:
        for text in scene.texts:
            said[text.shows] += "".join(text.text.split())
    lines = {line.shows: line.joins for scene in scenes for line in scene.lines}
    trouble = [f"lug:{lug} is shown {symbols[f'lug:{lug}']} times, not 1"
               for lug in switch.full_terminals if symbols[f"lug:{lug}"] != 1]  # fmt: skip
    trouble += (
        f"lug:{lug} bears no name" for lug in switch.full_terminals if not said[f"lug:{lug}"]
    )
    for wire in wiring.wires:
        own = [end for end in wire.ends if end.partition(".")[0] == switch_name]
        trouble += _untold(wire, own, said, lines) if own else []
    for part in spec.parts_of(wiring).values():
        for lug, place in zip(part.terminals, part.between or (), strict=False):
            if place in switch.full_terminals:
                shown = symbols[f"part:{part.name}"] or said[f"part:{part.terminal(lug)}"]
                trouble += [] if shown else [f"part:{part.name} is not shown"]
    return trouble


def _untold(
    wire: Wire, own: Sequence[str], said: dict[str, str], lines: dict[str, tuple[str, ...]]
) -> Iterator[str]:
    """A wire has a line on its lugs, or a row that says where it goes; and number and letters."""
    shows = f"{'wire' if len(own) == 1 else 'jumper'}:{wire.id}"
    due = [wire.id, wire.colour or ""]
    if shows not in lines:
        due += (end if len(own) == 1 else end.partition(".")[2] for end in {*wire.ends} - {own[0]})
    elif not {f"lug:{end}" for end in own} <= {*lines[shows]}:
        yield f"{shows} does not join {' '.join(own)}"
    for word in due:
        if "".join(visible(word).split()) not in said[shows]:
            yield f"{shows} does not say {word}"
