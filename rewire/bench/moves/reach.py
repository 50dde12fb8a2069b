"""Which lug is near and which is far, as one stands behind the panel with the iron."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

from rewire.bench.moves.parts import part_of
from rewire.spec.model import Meter, Part, Switch

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
    """Lug → decks between it and the person behind, where the spec's ``layout`` names decks."""
    decks = _decks(switch)
    last = len(decks) - 1
    return {lug: last - number for number, lugs in enumerate(decks) for lug in lugs}


def _decks(switch: Switch) -> list[list[str]]:
    """Lugs deck by deck, nearest the knob first; what drawing would refuse counts as one deck."""
    written = switch.layout.get("decks") if isinstance(switch.layout, Mapping) else None
    if isinstance(written, Sequence) and not isinstance(written, str):
        return [_lugs_of(switch, deck) for deck in written]
    count = int(str(written)) if str(written).isdecimal() else 1
    each = -(-len(switch.poles) // max(1, count))
    poles = list(switch.poles)
    return [[lug for pole in poles[n : n + each] for lug in pole]
            for n in range(0, len(poles), each or 1)]  # fmt: skip


def _lugs_of(switch: Switch, deck: object) -> list[str]:
    """Lugs of a deck written as a list of lugs, or of letters of poles."""
    letters = {s.pole: [n for pole in switch.poles if pole[0] in s.lugs for n in pole]
               for s in switch.sections if s.pole}  # fmt: skip
    named = [str(name) for name in deck] if isinstance(deck, Sequence) else []
    return [lug for name in named for lug in letters.get(name, [name])]
