"""Side by side: the original and another wiring from behind, what is wrong marked on both.

Both are drawn as on the card, or deck by deck where there are too many wires, and then only decks
on which something is wrong. Timing stands under them as bars over the travel of the knob.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from itertools import zip_longest
from math import inf

from rewire.draw.decks import decks_drawn
from rewire.draw.faults import FaultMark, with_faults
from rewire.draw.hookup import hook_up
from rewire.draw.scene import (
    MARGIN,
    PAPER,
    Box,
    Item,
    Panel,
    Paper,
    Scene,
    Symbol,
    middle_baseline,
    paragraphs,
    text_at,
    visible,
    width_mm,
)
from rewire.draw.sheets import gathered, on_a_sheet
from rewire.records.part import Section
from rewire.records.spec import Spec, Wiring
from rewire.records.switches import Switch

_GUTTER = 8.0
"""Between the two wirings, mm."""
_BETWEEN = 3.5
_TITLE, _BODY, _SMALL = 13.0, 9.0, 8.0
_HEIGHT, _DECK_HEIGHT = 115.0, 100.0
"""Of a hook-up and of a deck as they are wished, mm."""
_MOST_WIRES = 24
"""With more, decks are drawn alone."""
_BAR, _ROW = 1.8, 3.2
"""Height of a bar of timing, and from one to the next, mm."""
_OVER = {"shorting": 0.12, "non-shorting": -0.12}
"""How far a throw stays closed over half the way to the next, as a share of that way; drawn so that
it is seen, and not to scale."""


@dataclass(frozen=True, slots=True)
class Side:
    """One of the two wirings, and what is wrong with it or was lost from it."""

    wiring: Wiring
    title: str
    marks: tuple[FaultMark, ...]


def beside_view(
    spec: Spec, sides: tuple[Side, Side], said: Sequence[str], moved: Sequence[str], paper: Paper
) -> Scene:
    """One sheet with the original and another wiring beside each other.

    Under the pictures stand the timing of the controls ``moved`` and the faults, a sentence each.
    """
    rows, width = _pictures(spec, sides, paper)
    for control in moved:
        rows.append(tuple(_timing(spec, side.wiring, control, width) for side in sides))
    panels = [_abreast(pair, width) for pair in rows]
    whole = 2 * width + _GUTTER
    title = f"{sides[0].wiring.name} and {sides[1].wiring.name}, side by side"
    head, y = paragraphs([(title, _TITLE, True)], whole)
    named = (paragraphs([(side.title, _BODY, True)], width) for side in sides)
    over = [Panel(tuple(texts), width, tall) for texts, tall in named]
    told, tall = paragraphs([(one, _BODY, False) for one in said], whole)
    items: list[Item] = [*head]
    for panel in (_abreast(over, width), *panels, Panel(tuple(told), whole, tall)):
        items += panel.moved(0.0, y + _BETWEEN).items
        y += panel.height + _BETWEEN
    return on_a_sheet(Panel(tuple(items), whole, y), paper, f"{spec.title}: {title}")


def _abreast(pair: Sequence[Panel | None], width: float) -> Panel:
    """Two panels, the right one missing or both there."""
    shown = [(n, panel) for n, panel in enumerate(pair) if panel is not None]
    items = [i for n, panel in shown for i in panel.moved(n * (width + _GUTTER), 0.0).items]
    return Panel(tuple(items), 2 * width + _GUTTER, max(panel.height for _, panel in shown))


# Pictures -----------------------------------------------------------------------------------


def _pictures(
    spec: Spec, sides: tuple[Side, Side], paper: Paper
) -> tuple[list[tuple[Panel | None, ...]], float]:
    """Both wirings, picture by picture, and how wide each of them is, mm."""
    short, tall = PAPER[paper]
    if all(len(side.wiring.wires) <= _MOST_WIRES for side in sides):
        for width in ((edge - 2 * MARGIN - _GUTTER) / 2 for edge in (tall, 2 * short)):
            hook_ups = [_hook_up(spec, side, width) for side in sides]
            if None not in hook_ups:
                return [tuple(hook_ups)], width
    width = short - 2 * MARGIN
    drawn = (_decks(spec, side.wiring, width) for side in sides)
    decks = list(zip_longest(*drawn))
    marked = [tuple(map(_marked, pair, sides)) for pair in decks]
    found = [
        tuple(mark or panel for mark, panel in zip(both, pair, strict=True))
        for both, pair in zip(marked, decks, strict=True) if any(both)
    ]  # fmt: skip
    return found or decks, width


def _decks(spec: Spec, wiring: Wiring, width: float) -> Iterator[Panel]:
    """Every deck of every switch."""
    for _, panels in decks_drawn(spec, wiring, (width, _DECK_HEIGHT)):
        yield from gathered(panels, inf, 0.0)


def _hook_up(spec: Spec, side: Side, width: float) -> Panel | None:
    """As on the card; None where it cannot be drawn so narrow."""
    panel = hook_up(spec, side.wiring, width, _HEIGHT)
    if panel is None or any(i.box.left < 0.0 or i.box.right > width for i in panel.items):
        return None
    return _marked(panel, side) or panel


def _marked(panel: Panel | None, side: Side) -> Panel | None:
    """The picture with its faults; None if it has none."""
    return None if panel is None else with_faults(panel, side.marks)


# Timing -------------------------------------------------------------------------------------


def _timing(spec: Spec, wiring: Wiring, control: str, width: float) -> Panel | None:
    """A bar for each throw over the travel of a control: overlap or gap to be seen."""
    positions = spec.controls[control].positions
    switches = [s for s in spec.all_of(Switch, wiring).values() if s.control == control]
    bars = [(f"{switch.name}.{lug}", section, closed) for switch in switches
            for section in switch.sections for lug, closed in _throws(section)]  # fmt: skip
    if not bars:
        return None
    left = max(width_mm(name, _SMALL) for name, _, _ in bars) + 2.0
    step = (width - left) / len(positions)
    items: list[Item] = [
        text_at(visible(name), left + (n + 0.5) * step, 3.0, _SMALL, "centre", bold=True)
        for n, name in enumerate(positions)
    ]
    for row, (name, section, closed) in enumerate(bars):
        y = 5.5 + row * _ROW
        items.append(text_at(name, 0.0, middle_baseline(y, _SMALL), _SMALL))
        for first, last in closed:
            over = _OVER.get(section.timing, 0.0)
            start = left + max(0.0, first - (over if first else 0.0)) * step
            end = left + (last + 1 + (over if last + 1 < len(positions) else 0.0)) * step
            box = Box(start, y - _BAR / 2, end, y + _BAR / 2)
            items.append(Symbol("bar", box, f"timing:{name}:{first}", width=0.25, fill="black"))
    return Panel(tuple(items), width, 5.5 + len(bars) * _ROW)


def _throws(section: Section) -> Iterator[tuple[str, list[tuple[int, int]]]]:
    """Each lug but the common with the runs of positions in which it is closed."""
    common = section.lugs[0]
    for lug in section.lugs[1:]:
        closed = [any({common, lug} <= set(group) for group in groups) for groups in section.groups]
        starts = [n for n, on in enumerate(closed) if on and not (n and closed[n - 1])]
        runs = [(n, next((m for m in range(n, len(closed)) if not closed[m]), len(closed)) - 1)
                for n in starts]  # fmt: skip
        if runs:
            yield lug, runs
