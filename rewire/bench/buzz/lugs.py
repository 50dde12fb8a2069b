"""Where lugs lie beside each other on a switch, as far as a slip of the iron goes.

After the switch's ``layout`` or by common practice (no source): a rotary's throws on a ring with
the commons inside, a pole to a column elsewhere.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from itertools import pairwise

from rewire.spec.model import Part, Pot, Strip, Switch

Pair = tuple[str, str]
_ON_A_WAFER = 12
"""Places thirty degrees apart; common practice, no source."""


def neighbours(part: Part) -> list[Pair]:
    """Pairs of lugs of one part that solder can bridge, or a wire can be mistaken for."""
    if isinstance(part, Strip | Pot):
        return list(pairwise(part.terminals))
    if not isinstance(part, Switch):
        return []
    if _is_round(part):
        return [pair for ring in _rings(part) for pair in _around(ring)]
    return list(_in_grid(_grid(part)))


def mirrored(switch: Switch) -> dict[str, str]:
    """Lug → the lug that stands there for somebody who takes the wrong side for the right one."""
    if _is_round(switch):
        turned: dict[str, str] = {}
        for ring in _rings(switch):
            turned.update(_other_way_round(ring))
        return turned
    rows = _grid(switch)
    return {
        lug: other
        for row in rows
        for lug, other in zip(row, reversed(row), strict=True)
        if lug is not None and other is not None
    }


def reversed_throws(switch: Switch) -> dict[str, str]:
    """Lug → lug with the throws in use counted from the other end; empty for a table."""
    used = sorted({at for at in switch.throw_at or () if at is not None})
    turned = dict(zip(used, reversed(used), strict=True))
    return {pole[at]: pole[other] for pole in switch.poles for at, other in turned.items()}


def _is_round(switch: Switch) -> bool:
    if isinstance(switch.layout, Mapping) and "rows" in switch.layout:
        return False
    if isinstance(switch.layout, Mapping) and {"decks", "clock", "step"} & set(switch.layout):
        return True
    style = switch.style or ("rotary" if (switch.throws or 0) > 2 else "toggle")
    return style == "rotary"


def _rings(switch: Switch) -> Iterator[list[tuple[str, float]]]:
    """Per deck the lugs with their angles, in order of angle; hours of ``clock`` go first."""
    clock = switch.layout.get("clock", {}) if isinstance(switch.layout, Mapping) else {}
    hours = {str(lug): str(hour) for lug, hour in clock.items()} if clock else {}
    for deck in _decks(switch):
        placed = {lug: _degrees(hours[lug]) if lug in hours else at for lug, at in deck}
        yield sorted(placed.items(), key=lambda item: item[1])


def _degrees(hour: str) -> float:
    whole, _, minutes = hour.partition(":")
    if not whole.strip().isdigit() or not (minutes or "0").strip().isdigit():
        return 0.0
    return int(whole) % 12 * 30.0 + int(minutes or 0) * 0.5


def _decks(switch: Switch) -> Iterator[list[tuple[str, float]]]:
    poles = switch.poles
    if not poles:
        yield [(lug, 360.0 * n / len(switch.terminals)) for n, lug in enumerate(switch.terminals)]
        return
    throws = max(1, switch.throws or 1)
    step = 30.0 if throws <= _ON_A_WAFER else 360.0 / throws
    each = _poles_on_a_deck(switch, max(1, int(360 // (step * throws))))
    for start in range(0, len(poles), each):
        yield list(_deck(poles[start : start + each], step))


def _poles_on_a_deck(switch: Switch, usual: int) -> int:
    decks = switch.layout.get("decks") if isinstance(switch.layout, Mapping) else None
    if isinstance(decks, str) and decks.isdigit() and int(decks) > 0:
        return -(-len(switch.poles) // int(decks))
    if isinstance(decks, list | tuple) and decks:
        return -(-len(switch.poles) // len(decks))
    return usual


def _deck(poles: Sequence[Sequence[str]], step: float) -> Iterator[tuple[str, float]]:
    for number, (common, *throws) in enumerate(poles):
        start = -360.0 / len(poles) * number
        yield from ((lug, (start - step * n) % 360) for n, lug in enumerate(throws))
        yield common, (start - step * ((len(throws) - 1) // 2 + 0.5)) % 360


def _around(ring: Sequence[tuple[str, float]]) -> Iterator[Pair]:
    """Lugs next to each other, with the next but one where a common lies between two throws."""
    count = len(ring)
    if count < 2:
        return
    near = 360.0 / _ON_A_WAFER + 1.0
    seen = set()
    for number in range(count):
        for step in (1, 2):
            lug, at = ring[number]
            other, next_at = ring[(number + step) % count]
            pair = (min(lug, other), max(lug, other))
            if lug != other and pair not in seen and (next_at - at) % 360 <= near:
                seen.add(pair)
                yield lug, other


def _other_way_round(ring: Sequence[tuple[str, float]]) -> dict[str, str]:
    """Each lug's mirror image: exact where the lugs allow, else counted from the other end."""
    at = {round(angle, 3) % 360: lug for lug, angle in ring}
    images = {lug: at.get(round(-angle % 360, 3) % 360) for lug, angle in ring}
    if len(at) == len(ring) and None not in images.values():
        return {lug: image for lug, image in images.items() if image is not None}
    lugs = [lug for lug, _ in ring]
    return dict(zip(lugs, reversed(lugs), strict=True))


def _grid(switch: Switch) -> list[list[str | None]]:
    layout = switch.layout
    if isinstance(layout, Mapping) and isinstance(layout.get("rows"), list | tuple):
        rows = [[None if str(n) == "." else str(n) for n in row] for row in layout["rows"]]
    else:
        stacks = [_stack(pole) for pole in switch.poles or [s.lugs for s in switch.sections]]
        deepest = max((len(stack) for stack in stacks), default=0)
        rows = [[s[n] if n < len(s) else None for s in stacks] for n in range(deepest)]
    wide = max((len(row) for row in rows), default=0)
    return [[*row, *[None] * (wide - len(row))] for row in rows]


def _stack(pole: Sequence[str]) -> Sequence[str]:
    return (pole[1], pole[0], pole[2]) if len(pole) == 3 else pole


def _in_grid(rows: Sequence[Sequence[str | None]]) -> Iterator[Pair]:
    columns = list(zip(*rows, strict=True))
    for line in (*rows, *columns):
        for one, other in pairwise(line):
            if one is not None and other is not None:
                yield one, other
