"""A knob with another legend: the same control, its positions in another order of travel."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import replace

from rewire.fit.offers import Detents
from rewire.records.spec import Part, Spec, Switch, Wiring


def keeps_neighbours(way: Detents) -> bool:
    """Whether the knob passes the positions in the order of travel, one way or the other."""
    return list(way) in (sorted(way), sorted(way, reverse=True))


def in_order_of(spec: Spec, control: str, way: Detents) -> Spec:
    """A spec whose control passes its positions as the detents do, in every wiring.

    What happens between two detents is then judged between the positions that they serve.
    """
    order = sorted(range(len(way)), key=lambda position: way[position])
    old = spec.controls[control]
    turned = replace(old, positions=tuple(old.positions[at] for at in order))
    wirings = {name: wiring_in_order(w, control, order) for name, w in spec.wirings.items()}
    parts = _parts(spec.parts, control, order)
    controls = {**spec.controls, control: turned}
    return replace(spec, controls=controls, parts=parts, wirings=wirings)


def wiring_in_order(wiring: Wiring, control: str, order: Sequence[int]) -> Wiring:
    """A wiring whose switches answer to positions in another order."""
    return replace(wiring, parts=_parts(wiring.parts, control, order))


def _parts(parts: Mapping[str, Part], control: str, order: Sequence[int]) -> dict[str, Part]:
    return {name: _part(part, control, order) for name, part in parts.items()}


def _part(part: Part, control: str, order: Sequence[int]) -> Part:
    if not isinstance(part, Switch) or part.control != control:
        return part
    sections = tuple(replace(s, groups=tuple(s.groups[at] for at in order)) for s in part.sections)
    throws = part.throw_at and tuple(part.throw_at[at] for at in order)
    return replace(part, sections=sections, throw_at=throws)
