"""Will it go in? A new switch or meter at the panel, against the one that goes out.

Sizes that no standard gives (clearances, what a knob forgives) are common practice, no source.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from math import hypot, inf
from typing import Literal

from rewire.circuit.roles import forerunners
from rewire.records.mount import MeterMount, Mount, SwitchMount, Thread, size_said
from rewire.records.parts import Meter
from rewire.records.spec import Control, Spec, Wiring
from rewire.records.switches import Switch
from rewire.words.wording import listing

MisfitKind = Literal["hole", "shaft", "index", "stops", "bezel", "studs", "body", "depth"]
_CLEARANCE = 0.2
_LOOSE = 1.0
"""A bush with more play than that is centred by something."""
_SAME = 0.1
_NOTICED = 3.0
"""A shaft longer or shorter by less is the knob's own play."""
_MET = 0.5
"""Most that a stud's hole may be off, mm."""
_WALL = 1.0
"""Panel that must stay between two holes."""
_SEEN = 2.0
"""Degrees off its mark at which a pointer is seen to be off."""
_GOES_ON = {
    "round": ("round", "flat", "slotted"),
    "flat": ("flat",),
    "splined": ("splined",),
    "slotted": ("slotted",),
    "square": ("square",),
}
"""Form of the shaft that a knob was made for → shafts that it goes on."""


@dataclass(frozen=True, slots=True)
class Misfit:
    """Something that does not fit the panel, the knob or what is behind."""

    kind: MisfitKind
    message: str
    grave: bool = False
    """Whether it does not go in, or misleads, whatever is drilled."""


@dataclass(frozen=True, slots=True)
class Pointing:
    """Where a position is lettered and where the new knob points; degrees clockwise from twelve.

    The legend is taken to stand evenly about twelve, and the knob is set where it is least off.
    """

    position: str
    legend: float
    knob: float


@dataclass(frozen=True, slots=True)
class Mounting:
    """One part in the place of another, as the panel sees it."""

    part: str
    old: str
    misfits: tuple[Misfit, ...]
    pointing: tuple[Pointing, ...] = ()
    unknown: tuple[str, ...] = field(default=())
    """What decides and is not given: ``depth of S4``."""

    @property
    def cost(self) -> tuple[int, int, int]:
        """Grave misfits, misfits, and unknowns: the fewer the better."""
        return sum(one.grave for one in self.misfits), len(self.misfits), len(self.unknown)

    @property
    def not_given(self) -> str:
        """What to measure, in a sentence; empty if nothing."""
        if not self.unknown:
            return ""
        return f"not given, so not compared: {listing(self.unknown)}; measure before you drill"


def mountings(spec: Spec, wiring: Wiring) -> Iterator[Mounting]:
    """Every switch and meter of a wiring that takes another's place, if a mount is given.

    A part of the same name that says nothing else stays, screwed in where it was.
    """
    before = spec.all_of(Switch, spec.original), spec.all_of(Meter, spec.original)
    after = spec.all_of(Switch, wiring), spec.all_of(Meter, wiring)
    if not any(part.mount for some in (*before, *after) for part in some.values()):
        return
    pairs = [
        (old.name, name)
        for name in wiring.parts
        if name in after[0] or name in after[1]
        for old in forerunners(spec, wiring, wiring.parts[name])[:1]
    ]
    for was, name in pairs:
        found = None
        if name in after[0] and was in before[0]:
            found = switch_mounted(spec, before[0][was], after[0][name])
        elif name in after[1] and was in before[1]:
            found = meter_mounted(before[1][was], after[1][name])
        if found is not None:
            yield found


def switch_mounted(
    spec: Spec, old: Switch, new: Switch, detents: Sequence[int] = ()
) -> Mounting | None:
    """A switch against the one that goes out; None if nothing new is known of the panel.

    ``detents`` are those of each position, where they are known otherwise than from the switch.
    """
    was, now = old.mount or SwitchMount(), new.mount or SwitchMount()
    if _stays(old.name == new.name, was, now, SwitchMount()):
        return None
    control, at = spec.controls[old.control], detents or _detents(new)
    pointing = _pointing((was, now), control, _detents(old), at)
    misfits = (
        *_bush(was, now, new.name),
        *_shaft(was, now),
        *_index(was, now, pointing),
        *_stops(was, now, control, at),
        *_behind(was, now),
    )
    known: dict[str, tuple[object, object]] = {
        "hole": (was.panel_hole, now.panel_hole),
        "shaft": (was.shaft, now.shaft),
        "form of the shaft": (was.shaft_form, now.shaft_form),
        "depth": (_room(was, now) or was.depth, now.depth),
    }
    if len(control.positions) > 2:
        known["index"] = (was.index, now.index)
    unknown = tuple(_one_sided((old.name, new.name), known))
    return Mounting(new.name, old.name, misfits, pointing, unknown)


def meter_mounted(old: Meter, new: Meter) -> Mounting | None:
    """A meter against the one that goes out; None if nothing new is known of the panel."""
    was, now = old.mount or MeterMount(), new.mount or MeterMount()
    if _stays(old.name == new.name, was, now, MeterMount()):
        return None
    misfits = (*_body_hole(was, now), *_bezel(was, now), *_studs(was, now), *_behind(was, now))
    known = {
        "hole": (was.hole, now.hole),
        "studs": (was.studs, now.studs),
        "depth": (_room(was, now) or was.depth, now.depth),
    }
    unknown = tuple(_one_sided((old.name, new.name), known))
    return Mounting(new.name, old.name, misfits, unknown=unknown)


def _stays(same_name: bool, old: Mount, new: Mount, nothing: Mount) -> bool:
    """Whether nothing is known of either, or of a part of the same name nothing new."""
    return (same_name and new in (nothing, old)) or old == new == nothing


def _one_sided(names: tuple[str, str], known: Mapping[str, tuple[object, object]]) -> Iterator[str]:
    """What only one of the two says."""
    for side, name in enumerate(names):
        lacking = [
            word
            for word, both in known.items()
            if both[side] is None and both[1 - side] is not None
        ]
        if lacking:
            yield f"{listing(lacking)} of {name}"


# Switches -----------------------------------------------------------------------------------


def _bush(old: SwitchMount, new: SwitchMount, name: str) -> Iterator[Misfit]:
    have, need, bush = old.panel_hole, new.panel_hole, new.bush
    if have is None or need is None:
        return
    through = bush.diameter if bush else need - _CLEARANCE
    said = f"bush {bush.said}" if bush else f"{name}'s"
    if have < through + _SAME / 2:
        yield Misfit("hole", f"ream the hole from {size_said(have)} to {size_said(need)} ({said})")
    elif have - through > _LOOSE:
        yield Misfit(
            "hole",
            f"the hole is {size_said(have)}, {said} {size_said(through)}: "
            "bush the hole, or centre it with shouldered washers on both sides",
        )


def _shaft(old: SwitchMount, new: SwitchMount) -> Iterator[Misfit]:
    if old.shaft and new.shaft and abs(new.shaft - old.shaft) > _SAME:
        both = f"the knob is for {size_said(old.shaft)}, the shaft is {size_said(new.shaft)}"
        cure = "sleeve it" if new.shaft < old.shaft else "bore the knob out, or find another"
        yield Misfit("shaft", f"{both}: {cure}")
    if old.shaft_form and new.shaft_form:
        if new.shaft_form not in _GOES_ON[old.shaft_form]:
            both = f"the knob is for a {old.shaft_form} shaft, the new one is {new.shaft_form}"
            filed = old.shaft_form == "flat" and new.shaft_form == "round"
            yield Misfit("shaft", f"{both}: {'file a flat' if filed else 'find another knob'}")
        elif new.shaft_form == "splined":
            yield Misfit("shaft", "both shafts are splined: count the teeth before you trust it")
        elif new.shaft_form == "slotted" != old.shaft_form:
            yield Misfit("shaft", "the shaft is slotted: pack the slot, or the screw closes it")
    if old.shaft_length and new.shaft_length:
        longer = new.shaft_length - old.shaft_length
        if longer > _NOTICED:
            cure = f"saw {size_said(longer)} off, with the shaft in the vice and not the switch"
            yield Misfit("shaft", f"the shaft is {size_said(longer)} longer: {cure}")
        elif longer < -_NOTICED:
            yield Misfit(
                "shaft", f"the shaft is {size_said(-longer)} shorter: see that the knob grips"
            )


def _detents(switch: Switch) -> tuple[int, ...]:
    """Per position of the control, counted on from any number; an open throw goes in order."""
    known = tuple(at for at in switch.throw_at or () if at is not None)
    count = len(switch.throw_at or ()) or max((len(s.groups) for s in switch.sections), default=0)
    return known if len(known) == count else tuple(range(1, count + 1))


def _pointing(
    sides: tuple[SwitchMount, SwitchMount],
    control: Control,
    was: Sequence[int],
    now: Sequence[int],
) -> tuple[Pointing, ...]:
    """Where each position points before and after; none where an angle is not known."""
    step, new_step = (side.index for side in sides)
    if not step or not new_step or not len(was) == len(now) > 1:
        return ()
    legend = _about_the_middle([step * at for at in was])
    turned = [new_step * at for at in now]
    off = _about_the_middle([b - a for a, b in zip(legend, turned, strict=True)])
    return tuple(
        Pointing(position, mark, mark + beside)
        for position, mark, beside in zip(control.positions, legend, off, strict=True)
    )


def _about_the_middle(angles: Sequence[float]) -> list[float]:
    middle = (min(angles) + max(angles)) / 2
    return [angle - middle for angle in angles]


def _index(old: SwitchMount, new: SwitchMount, pointing: Sequence[Pointing]) -> Iterator[Misfit]:
    off = max((abs(one.knob - one.legend) for one in pointing), default=0.0)
    if off < _SEEN:
        return
    step = f"{new.index:g}° from position to position, the legend has {old.index:g}°"
    wrong = [(one, mark) for one in pointing if (mark := _nearest(one, pointing)) is not one]
    if wrong:
        said = listing([f"{one.position} points at {mark.position}" for one, mark in wrong])
        yield Misfit("index", f"{step}: {said}; letter it anew, it misleads", grave=True)
    else:
        cure = "letter it anew, or put a new dial behind the knob"
        yield Misfit("index", f"{step}: up to {off:.3g}° beside the marks; {cure}")


def _nearest(one: Pointing, pointing: Sequence[Pointing]) -> Pointing:
    """The position at whose mark, or just as near, the knob points; its own if that is nearest."""
    nearest = min(pointing, key=lambda other: abs(other.legend - one.knob))
    own = abs(one.legend - one.knob)
    return nearest if abs(nearest.legend - one.knob) < own - 1e-6 else one


def _stops(
    old: SwitchMount, new: SwitchMount, control: Control, detents: Sequence[int]
) -> Iterator[Misfit]:
    if new.stops is None or control.wraps or control.moves_any:
        return
    needed = max(detents, default=0) - min(detents, default=0) + 1
    left = new.stops or inf
    allowed = len(control.positions) if old.stops is None else old.stops or inf
    if left < needed:
        said = f"its stops leave {left} positions, {needed} are needed: see whether they can be set"
        yield Misfit("stops", said, grave=True)
    elif left > allowed:
        turns = "it turns all round" if left == inf else f"its stops leave {left} positions"
        cure = f"set or fit stops for {max(allowed, needed)}"
        yield Misfit("stops", f"{turns}, the old one stopped after {allowed}: {cure}")


# Meters -------------------------------------------------------------------------------------


def _body_hole(old: MeterMount, new: MeterMount) -> Iterator[Misfit]:
    have, need, bezel = old.hole, new.hole, new.bezel
    if have is not None and need is not None and need > have + _SAME:
        yield Misfit("hole", f"open the hole out from {size_said(have)} to {size_said(need)}")
    if have is not None and bezel is not None and min(bezel) < have + 2 * _WALL:
        said = f"the hole is {size_said(have)}, the bezel {size_said(min(bezel))}"
        cure = "it does not cover the hole: put a plate under it"
        yield Misfit("bezel", f"{said}: {cure}", grave=min(bezel) < have)


def _bezel(old: MeterMount, new: MeterMount) -> Iterator[Misfit]:
    was, now = old.bezel, new.bezel
    less = max(was[0] - now[0], was[-1] - now[-1]) if was and now else 0.0
    if less > 2 * _WALL:
        said = f"the bezel is {size_said(less)} smaller: panel that it covered will show"
        yield Misfit("bezel", said)


def _studs(old: MeterMount, new: MeterMount) -> Iterator[Misfit]:
    if old.studs is None or new.studs is None:
        return
    reach = _radius(new.stud)
    hole = (old.hole or 0.0) / 2
    drilled = []
    for x, y in new.studs:
        near = min((hypot(x - a, y - b) for a, b in old.studs), default=inf)
        if hypot(x, y) < hole + reach:
            said = f"the stud at {_at(x, y)} mm is in the old hole, nothing holds it there"
            yield Misfit("studs", f"{said}: put a plate under the meter", grave=True)
        elif near > _MET:
            if near < reach + _radius(old.stud) + _WALL:
                said = f"the stud at {_at(x, y)} mm runs into an old hole"
                yield Misfit("studs", f"{said}: file a slot, and put a large washer on it")
            else:
                drilled.append(_at(x, y))
    if drilled:
        studs = "studs" if len(drilled) > 1 else "stud"
        size = f" {size_said(2 * reach)}" if reach else ""
        yield Misfit("studs", f"drill{size} for the {studs} at {listing(drilled)} mm")
    if left := [_at(*at) for at in old.studs if _shows(at, new)]:
        holes = "the old stud holes at" if len(left) > 1 else "the old stud hole at"
        yield Misfit("studs", f"{holes} {listing(left)} mm will show beside the bezel: plug")


def _radius(stud: Thread | None) -> float:
    """Of the hole that a stud is put through; 0 where that is not known."""
    return stud.clearance / 2 if stud else 0.0


def _at(x: float, y: float) -> str:
    """To the right and up from the centre of the hole, mm."""
    return f"({round(x, 2) + 0.0:g}, {round(y, 2) + 0.0:g})".replace("-", "−")


def _shows(at: tuple[float, float], new: MeterMount) -> bool:
    """Whether an old hole is left unused, and not covered by the new bezel as far as known."""
    used = any(hypot(at[0] - x, at[1] - y) <= _MET for x, y in new.studs or ())
    if new.bezel is None or used or hypot(*at) < (new.hole or 0.0) / 2:
        return False
    if len(new.bezel) == 1:
        return hypot(*at) > new.bezel[0] / 2
    return abs(at[0]) > new.bezel[0] / 2 or abs(at[1]) > new.bezel[1] / 2


# Behind the panel --------------------------------------------------------------------------


def _behind(old: Mount, new: Mount) -> Iterator[Misfit]:
    if old.body is not None and new.body is not None:
        wider = max(new.body[0] - old.body[0], new.body[-1] - old.body[-1])
        if wider > _SAME:
            said = f"{size_said(wider)} larger behind the panel: see what stands beside it"
            yield Misfit("body", said)
    if new.depth is None:
        return
    room = _room(old, new)
    if room is not None:
        if new.depth > room:
            said = f"{size_said(new.depth)} deep, {size_said(room)} are free behind the panel"
            yield Misfit("depth", said, grave=True)
    elif old.depth is not None and new.depth > old.depth + _SAME:
        said = f"{size_said(new.depth - old.depth)} deeper: see that so much is free behind it"
        yield Misfit("depth", said)


def _room(old: Mount, new: Mount) -> float | None:
    """Free depth behind the panel, mm: as given for the old or the new, the smaller of the two."""
    return min((room for room in (old.room, new.room) if room is not None), default=None)
