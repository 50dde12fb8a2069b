"""Offers: switches that might take the old one's place, from a form, a drawer or a buzz-out."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from itertools import permutations
from typing import Literal

from rewire.circuit import LimitReached
from rewire.reading.buzzout import Buzzout, switch_of
from rewire.reading.drawer import Drawer, read_drawer_text
from rewire.records.spec import Section, Switch, Timing
from rewire.records.switches import read_form

MOST_IN_ANY_ORDER = 5
Order = Literal["in-order", "reversed", "any"]
Detents = tuple[int, ...]
"""Per position of the control the detent that serves it, counted from 0."""


@dataclass(frozen=True)
class Offer:
    """A switch on hand; its sections' groups are told per detent."""

    name: str
    """What it is called in tables: ``4P3T``, or where it lies."""
    switch: Switch
    detents: tuple[str, ...]
    quantity: int = 1

    @property
    def plain(self) -> tuple[int, int] | None:
        """Poles and throws of a plain form, None for a table."""
        return read_form(self.switch.form)

    @property
    def open_timings(self) -> bool:
        """Whether a section's timing is not stated, or not known."""
        return any(not s.timing_stated or s.timing == "unknown" for s in self.switch.sections)

    def first_poles(self, count: int) -> Offer:
        """A plain form of which only so many poles are used; the other lugs are left out."""
        poles = self.switch.poles[:count]
        kept = {lug for pole in poles for lug in pole}
        sections = tuple(s for s in self.switch.sections if kept & {*s.lugs})
        terminals = tuple(lug for lug in self.switch.terminals if lug in kept)
        idle = tuple(lug for lug in self.switch.idle_lugs if lug in kept)
        switch = replace(
            self.switch, terminals=terminals, sections=sections, poles=poles, idle_lugs=idle
        )
        return replace(self, switch=switch)

    def first_throws(self, count: int) -> Offer:
        """A plain form of which only so many throws are used; the other lugs are left out."""
        poles = tuple(pole[: count + 1] for pole in self.switch.poles)
        kept = {lug for pole in poles for lug in pole}
        detents = self.detents[:count]
        sections = tuple(
            replace(s, lugs=tuple(lug for lug in s.lugs if lug in kept), groups=s.groups[:count])
            for s in self.switch.sections
        )
        terminals = tuple(lug for lug in self.switch.terminals if lug in kept)
        switch = replace(self.switch, terminals=terminals, sections=sections, poles=poles)
        return replace(self, switch=switch, detents=detents)

    def timed(self, timings: Sequence[Timing]) -> Offer:
        """The same switch with a timing stated for each section."""
        pairs = zip(self.switch.sections, timings, strict=True)
        sections = tuple(replace(s, timing=timing, timing_stated=True) for s, timing in pairs)
        return replace(self, switch=replace(self.switch, sections=sections))


def offer_of_form(form: str, timing: str | None = None) -> Offer:
    """A switch of a plain form.

    Args:
        form: ``4P3T`` and the like.
        timing: of all its sections; None where it is not stated.

    Raises:
        ValueError: no such form.
    """
    if read_form(form) is None:
        raise ValueError(form)
    stated = f", timing: {timing}" if timing else ""
    text = f"rewire_drawer: 1\nswitches: [{{switch: {form}{stated}}}]\n"
    stocked = read_drawer_text(text.encode(), form).switches[0]
    return replace(_offer(stocked.part), name=form)


def offers_of_drawer(drawer: Drawer) -> Iterator[Offer]:
    """Every switch that lies in a drawer, in its order."""
    for stocked in drawer.switches:
        if stocked.quantity:
            yield replace(_offer(stocked.part), quantity=stocked.quantity)


def offer_of_buzzout(buzzout: Buzzout) -> Offer:
    """The switch that was buzzed."""
    switch = switch_of(buzzout, "buzzed")
    return Offer(buzzout.title or buzzout.file, switch, buzzout.detents)


def _offer(switch: Switch) -> Offer:
    count = max((len(section.groups) for section in switch.sections), default=0)
    form = read_form(switch.form)
    if form is not None and form[1] == 1:
        return Offer(switch.name, switch, ("1", "open"))
    return Offer(switch.name, switch, tuple(str(n) for n in range(1, count + 1)))


def ways_to_serve(offer: Offer, positions: int, order: Order) -> list[Detents]:
    """Which detents may serve the positions; consecutive ones, for the knob needs its stops.

    The throws of a plain form are alike, so the first ones in the order asked for stand
    for every other choice. A form of one throw has no order that a legend could follow:
    closed first and open first are both tried.

    Raises:
        LimitReached: any order is asked for, and there are too many.
    """
    if len(offer.detents) < positions:
        return []
    if order == "any" and offer.plain is None and positions > MOST_IN_ANY_ORDER:
        raise LimitReached(
            f"any order of {positions} positions: more than {MOST_IN_ANY_ORDER} are not tried; "
            "ask for in-order or reversed"
        )
    starts = range(len(offer.detents) - positions + 1)
    rising = [tuple(range(start, start + positions)) for start in starts]
    falling = [tuple(reversed(way)) for way in rising]
    form = offer.plain
    if form is not None and form[1] == 1:
        return [*rising, *falling]
    if order == "any" and form is None:
        return [p for way in rising for p in permutations(way)]
    if form is not None:
        return falling[:1] if order == "reversed" else rising[:1]
    return falling if order == "reversed" else rising


def mapped(section: Section, way: Detents) -> Section:
    """A section as it answers to the positions of the control."""
    groups = tuple(section.groups[detent] for detent in way)
    used = {lug for at in groups for group in at for lug in group}
    return replace(section, groups=groups, lugs=tuple(g for g in section.lugs if g in used))
