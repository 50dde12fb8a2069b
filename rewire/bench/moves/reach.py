"""Which lug is near and which is far, as one stands behind the panel with the iron."""

from __future__ import annotations

from collections.abc import Mapping

from rewire.compare.roles import part_of
from rewire.records.lug_positions import lug_positions
from rewire.records.spec import Meter, Part, Switch

Key = tuple[int, str, int, int]


def near_first(parts: Mapping[str, Part], place: str) -> Key:
    """Order for lifting: by part, switches first; on a switch the rear deck first.

    From behind, the deck nearest the knob is the far one: it is reached once the others are
    clear, and wired before the others cover it.
    """
    rank, name, depth, lug = _key(parts, place)
    return (rank, name, depth, lug)


def far_first(parts: Mapping[str, Part], place: str) -> Key:
    """Order for landing: the deck nearest the knob first."""
    rank, name, depth, lug = _key(parts, place)
    return (rank, name, -depth, lug)


def _key(parts: Mapping[str, Part], place: str) -> Key:
    part = parts.get(part_of(place))
    if part is None:
        return (3, place, 0, 0)
    lug = place.split(".", 1)[1]
    rank = 0 if isinstance(part, Switch) else 1 if isinstance(part, Meter) else 2
    depth = depths_of(part).get(lug, 0) if isinstance(part, Switch) else 0
    return (rank, part.name, depth, part.terminals.index(lug))


def depths_of(switch: Switch) -> dict[str, int]:
    """Lug → decks between it and the person behind."""
    of = lug_positions(switch).of
    last = max(one.deck for one in of.values())
    return {lug: last - one.deck for lug, one in of.items()}
