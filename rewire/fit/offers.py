"""Switches that might take the old one's place, and how what was on the old one lands on them."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from itertools import permutations
from typing import Literal

from rewire.circuit import LimitReached
from rewire.reading.buzzout import Buzzout, switch_of
from rewire.reading.drawer import Drawer, read_drawer_text
from rewire.records.spec import Part, Section, Spec, Switch, Timing
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
        return self._with_poles(self.switch.poles[:count])

    def first_throws(self, count: int) -> Offer:
        """A plain form of which only so many throws are used; the other lugs are left out."""
        few = self._with_poles(tuple(pole[: count + 1] for pole in self.switch.poles))
        sections = tuple(replace(s, groups=s.groups[:count]) for s in few.switch.sections)
        return replace(
            few, switch=replace(few.switch, sections=sections), detents=self.detents[:count]
        )

    def _with_poles(self, poles: tuple[tuple[str, ...], ...]) -> Offer:
        switch = self.switch
        kept = {lug for pole in poles for lug in pole}
        sections = tuple(
            replace(s, lugs=tuple(lug for lug in s.lugs if lug in kept))
            for s in switch.sections
            if kept & {*s.lugs}
        )
        return replace(
            self,
            switch=replace(
                switch,
                terminals=tuple(lug for lug in switch.terminals if lug in kept),
                idle_lugs=tuple(lug for lug in switch.idle_lugs if lug in kept),
                sections=sections,
                poles=poles,
            ),
        )

    def timed(self, timings: Sequence[Timing]) -> Offer:
        """The same switch with a timing stated for each section."""
        pairs = zip(self.switch.sections, timings, strict=True)
        sections = tuple(replace(s, timing=timing, timing_stated=True) for s, timing in pairs)
        return replace(self, switch=replace(self.switch, sections=sections))

    def with_open_timings_non_shorting(self) -> Offer:
        """What is not known as non-shorting, until it is asked for otherwise."""
        sections = self.switch.sections
        timings = ["non-shorting" if s.timing == "unknown" else s.timing for s in sections]
        pairs = zip(sections, timings, strict=True)
        timed = tuple(replace(section, timing=timing) for section, timing in pairs)
        return replace(self, switch=replace(self.switch, sections=timed))


@dataclass(frozen=True, slots=True)
class Landing:
    """How the pieces of the old nets land on a new switch.

    ``nets`` are the nets of the new switch that carry a lug, each a set of stubs (by
    number; none for lugs that are only jumpered with each other) and its lugs in order.
    """

    nets: tuple[tuple[tuple[int, ...], tuple[str, ...]], ...]
    detents: Detents
    timings: tuple[Timing, ...]
    """Per section of the offer."""

    @property
    def connections(self) -> int:
        """Stubs that land."""
        return sum(len(stubs) for stubs, _ in self.nets)

    @property
    def jumpers(self) -> int:
        """Jumpers between lugs."""
        return sum(len(lugs) - 1 for _, lugs in self.nets)

    @property
    def cost(self) -> tuple[int, int]:
        """Connections and jumpers."""
        return self.connections, self.jumpers

    def spare(self, lugs: Sequence[str]) -> tuple[str, ...]:
        """Lugs that carry nothing."""
        used = {lug for _, of_net in self.nets for lug in of_net}
        return tuple(lug for lug in lugs if lug not in used)


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


def detents_for(offer: Offer, positions: int, order: Order) -> list[Detents]:
    """Which detents may serve the positions; consecutive ones, for the knob needs its stops.

    The throws of a plain form are alike, so the first ones in the order asked for stand
    for every other choice. A form of one throw has no order that a legend could follow:
    closed first and open first are both tried.

    Raises:
        LimitReached: any order is asked for, and there are too many.
    """
    form = offer.plain
    starts = range(len(offer.detents) - positions + 1)
    rising = [tuple(range(start, start + positions)) for start in starts]
    falling = [tuple(reversed(some)) for some in rising]
    if form is not None and form[1] == 1:
        return [*rising, *falling]
    if form is not None:
        return falling[:1] if order == "reversed" else rising[:1]
    if order != "any":
        return falling if order == "reversed" else rising
    if rising and positions > MOST_IN_ANY_ORDER:
        raise LimitReached(
            f"any order of {positions} positions: more than {MOST_IN_ANY_ORDER} are not tried; "
            "ask for in-order or reversed"
        )
    return [some for run in rising for some in permutations(run)]


def mapped(section: Section, detents: Detents) -> Section:
    """A section as it answers to the positions of the control."""
    groups = tuple(section.groups[detent] for detent in detents)
    used = {lug for at in groups for group in at for lug in group}
    return replace(section, groups=groups, lugs=tuple(g for g in section.lugs if g in used))


def keeps_neighbours(detents: Detents) -> bool:
    """Whether the knob passes the positions in the order of travel, one way or the other."""
    return list(detents) in (sorted(detents), sorted(detents, reverse=True))


def in_order_of(spec: Spec, control: str, detents: Detents) -> Spec:
    """A spec whose control passes its positions as the detents do, in every wiring.

    What happens between two detents is then judged between the positions that they serve.
    """
    order = sorted(range(len(detents)), key=lambda position: detents[position])
    old = spec.controls[control]
    turned = replace(old, positions=tuple(old.positions[at] for at in order))
    wirings = {
        name: replace(wiring, parts=_parts_in_order(wiring.parts, control, order))
        for name, wiring in spec.wirings.items()
    }
    parts = _parts_in_order(spec.parts, control, order)
    controls = {**spec.controls, control: turned}
    return replace(spec, controls=controls, parts=parts, wirings=wirings)


def _parts_in_order(
    parts: Mapping[str, Part], control: str, order: Sequence[int]
) -> dict[str, Part]:
    return {name: _in_order(part, control, order) for name, part in parts.items()}


def _in_order(part: Part, control: str, order: Sequence[int]) -> Part:
    if not isinstance(part, Switch) or part.control != control:
        return part
    sections = tuple(replace(s, groups=tuple(s.groups[at] for at in order)) for s in part.sections)
    throws = part.throw_at and tuple(part.throw_at[at] for at in order)
    return replace(part, sections=sections, throw_at=throws)
