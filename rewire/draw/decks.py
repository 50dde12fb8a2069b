"""The hook-up deck by deck, where all of it would be too much for one picture.

Each deck is drawn with what is soldered to it. A part stands beside the deck it is nearest to; a
lead from one deck to another is drawn at both, and says at each where its other end is. Points
and chassis stand wherever something is joined to them.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from itertools import zip_longest
from math import inf

import networkx as nx

from rewire.circuit.circuit import circuit_of
from rewire.draw.hookup import Lettering, Pictured, backs_of, portion_drawn
from rewire.draw.in_place import LugWords, paragraph
from rewire.draw.leads import POINTS, Lead, leads_of
from rewire.draw.lugs import soldered_to
from rewire.draw.metering import not_metering
from rewire.draw.scene import XY, Item, Panel, hull, visible, width_mm
from rewire.draw.sheets import gathered
from rewire.draw.strands import chassis_of, tag_by_tag
from rewire.draw.switch_back import Back
from rewire.records.spec import CUT, Spec, Wiring
from rewire.records.switches import Switch

_MOST_COLUMNS = 3
_MOST_POLES = 3
_MOST_WIRES = 24
"""A deck with more has a list."""
_GUTTER = 4.0
"""Between the two columns of a list, mm."""


def deck_by_deck(spec: Spec, wiring: Wiring, width: float, height: float) -> Iterator[Panel]:
    """All decks with what is soldered to them, in one column and in more; each of that width, mm.

    A deck that cannot be drawn so has a list of its wires beside it.
    """
    decks = [
        one for _, panels in decks_drawn(spec, wiring, (width, height))
        for one in gathered(panels, inf, 0.0)
    ]  # fmt: skip
    every = spec.all_of(Switch, wiring).values()
    words = LugWords(
        spec, wiring, frozenset(lug for switch in every for lug in switch.full_terminals)
    )
    for columns in range(1, min(_MOST_COLUMNS, len(decks)) + 1):
        drawn = abreast(decks, columns)
        head, top = paragraph(words.heading(), 1.0, 0.5, drawn.width - 2.0, "heading")
        under = [*((said, True) for said in _not_to_omit(spec, wiring)),
                 (words.legend(leads_of(spec, wiring)), False)]  # fmt: skip
        told, end = paragraph(under, 1.0, top + drawn.height + 1.0, drawn.width - 2.0, "legend")
        yield Panel((*head, *drawn.moved(0.0, top).items, *told), drawn.width, end)


def decks_drawn(
    spec: Spec, wiring: Wiring, size: XY, *, mirrored: bool = False
) -> Iterator[tuple[Back, list[Panel]]]:
    """Each deck with its picture, or with a list of its wires; ``size`` is wished for each, mm."""
    leads = leads_of(spec, wiring)
    backs = backs_of(spec, wiring, leads, mirrored=mirrored)
    for portion, heading in zip(
        _portions(spec, wiring, backs, leads), _headings(backs), strict=True
    ):
        (back,) = portion.backs
        said = Lettering([(heading, True)], "", [])
        wires = sum(lead.kind in ("wire", "jumper") for lead in portion.leads)
        if wires > _MOST_WIRES or (mirrored and back.sprung):  # they would leave into its springs
            panel = None
        else:
            panel = portion_drawn(spec, wiring, portion, said, size)
        yield back, [panel] if panel else deck_list(spec, wiring, back, heading, size[0])


def deck_list(spec: Spec, wiring: Wiring, back: Back, heading: str, width: float) -> list[Panel]:
    """A deck with its jumpers, then what is soldered to each of its lugs, row by row."""
    head, top = paragraph([(heading, True)], 1.0, 0.5, width - 2.0, "heading")
    box = hull(item.box for item in back.items)
    place = ((width - box.width) / 2 - box.left, top + 1.0 - box.top)
    items = [item.moved(*place) for item in back.items]
    rows = list(_rows(spec, wiring, back, (width - _GUTTER) / 2))
    half = (len(rows) + 1) // 2
    panels = [Panel((*head, *items), width, top + box.height + 2.0)]
    for left, right in zip_longest(rows[:half], rows[half:]):
        beside = right.moved(left.width + _GUTTER, 0.0).items if right else ()
        tall = max(left.height, right.height if right else 0.0)
        panels.append(Panel((*left.items, *beside), width, tall))
    return panels


def _rows(spec: Spec, wiring: Wiring, back: Back, width: float) -> Iterator[Panel]:
    """A row for each thing soldered to a lug of the deck: the lug, then the thing."""
    switch = spec.all_of(Switch, wiring)[back.switch]
    for lug, labels in soldered_to(spec, wiring, switch).items():
        if (terminal := switch.terminal(lug)) in back.lugs:
            name = f"{visible(lug)}:"
            left = width_mm(name, POINTS, bold=True) + 1.2
            for label in labels:
                named, _ = paragraph([(name, True)], 0.0, 0.0, inf, f"at:{terminal}")
                said, tall = paragraph([(label.text, False)], left, 0.0, width - left, label.shows)
                yield Panel((*named, *said), width, tall)


def abreast(panels: Sequence[Panel], columns: int) -> Panel:
    """Panels of one width in rows, so many in each."""
    items: list[Item] = []
    y = 0.0
    for row in (panels[n : n + columns] for n in range(0, len(panels), columns)):
        for n, panel in enumerate(row):
            items += panel.moved(n * panel.width, y).items
        y += max(panel.height for panel in row)
    return Panel(tuple(items), columns * panels[0].width, y)


def _not_to_omit(spec: Spec, wiring: Wiring) -> Iterator[str]:
    """What a pole carries that has nothing to do with the meter."""
    for switch in spec.all_of(Switch, wiring).values():
        told = not_metering(spec, wiring, switch)
        if len(told) > _MOST_POLES:
            poles = ", ".join(said.split()[1] for said in told)
            told = [f"Poles {poles} have nothing to do with the meter: do not omit them"]
        yield from (f"▲ {switch.name}: {said}." for said in told)


def _headings(backs: Sequence[Back]) -> Iterator[str]:
    """The switch, and which of its decks; of rows the switch alone."""
    several = len({back.switch for back in backs}) > 1
    for back in backs:
        name = f"{back.switch} " if several or not back.title else ""
        yield f"{name}{back.title}".strip()


def _portions(
    spec: Spec, wiring: Wiring, backs: Sequence[Back], leads: Sequence[Lead]
) -> Iterator[Pictured]:
    """What stands at each deck."""
    deck_of = _decks(spec, wiring, backs, leads)
    named = _names(spec, wiring)
    for number, back in enumerate(backs):
        own = [lead for lead in leads if number in _ends(lead, deck_of, named, spec)]
        parts = {name for name in named.values() if deck_of.get(name) == number}
        yield Pictured([back], own, parts)


def _names(spec: Spec, wiring: Wiring) -> Mapping[str, str]:
    """Terminal of a part beside the switches → the part; of a long strip the tag."""
    return {
        terminal: terminal if tag_by_tag(part) else part.name
        for part in circuit_of(spec, wiring).parts.values() if not isinstance(part, Switch)
        for terminal in part.full_terminals
    }  # fmt: skip


def _ends(lead: Lead, deck_of: Mapping[str, int], named: Mapping[str, str], spec: Spec) -> set[int]:
    """The decks at which a lead is drawn: where its lugs and parts are, else where its points."""
    found = {
        deck_of[named.get(end, end)] for end in lead.ends if end not in spec.points and end != CUT
    }
    return found or {deck_of[end] for end in lead.ends[:1] if end in deck_of}


def _decks(
    spec: Spec, wiring: Wiring, backs: Sequence[Back], leads: Sequence[Lead]
) -> dict[str, int]:
    """Lug, part or point → the deck that it is nearest to over leads, but not over chassis."""
    named, chassis = _names(spec, wiring), chassis_of(spec)
    deck_of = {lug: number for number, back in enumerate(backs) for lug in back.lugs}
    graph: nx.Graph[str] = nx.Graph()
    graph.add_nodes_from([*deck_of, *named.values(), *spec.points])
    graph.add_edges_from(
        (named.get(a, a), named.get(b, b)) for a, b in (lead.ends for lead in leads)
        if not chassis & {a, b} and CUT not in (a, b)
    )  # fmt: skip
    nearest = nx.multi_source_dijkstra_path(graph, list(deck_of))
    return dict.fromkeys(graph, 0) | {end: deck_of[path[0]] for end, path in nearest.items()}
