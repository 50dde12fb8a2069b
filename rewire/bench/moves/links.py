"""Links: wires and parts' own leads, what it costs to keep one, and what one asks of another."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

from rewire.bench.moves.parts import Turnover, hangs_on_its_leads
from rewire.compare.roles import part_of
from rewire.records.spec import CUT, Wire, Wiring

END = 10_000_000
"""Cost of one end lifted or landed: what the list is short in, before all else. So large that no
number of wires adds up to one end by what follows."""
_CUT = END // 2
_FAR = 300
_OTHER_COLOUR, _UNSURE_COLOUR = 200, 50
_OTHER_LUG, _OTHER_ID = 20, 1


@dataclass(frozen=True, slots=True)
class Link:
    """A wire, or the lead by which a part written with ``between`` hangs on a place."""

    id: str
    ends: tuple[str, str]
    """Of a lead: the part's terminal, then the place."""
    wire: Wire | None = None

    @property
    def colour(self) -> str | None:
        """Letters of IEC 60757, where they are known."""
        return self.wire.colour if self.wire else None

    @property
    def jumper(self) -> bool:
        """Whether both ends are on one part."""
        return self.wire is not None and self.wire.jumper


@dataclass(frozen=True, slots=True)
class Pair:
    """A link of the first wiring that becomes one of the second."""

    old: Link
    new: Link
    crossed: bool
    """Whether the first end of the one becomes the second of the other."""
    cost: int

    @property
    def ends(self) -> tuple[tuple[str, str], tuple[str, str]]:
        """Old and new place of the first end, then of the second."""
        one, other = self.new.ends[::-1] if self.crossed else self.new.ends
        return (self.old.ends[0], one), (self.old.ends[1], other)


def links_of(wiring: Wiring) -> list[Link]:
    """All wires, those that are cut off too, then the leads of the wiring's own parts."""
    links = [Link(w.id, w.ends, w) for w in (*wiring.wires, *wiring.cut_wires)]
    for part in wiring.parts.values():
        if part.between is not None:
            owns = (part.terminal(lug) for lug in part.terminals)
            links += [
                Link(f"lead {own}", (own, place))
                for own, place in zip(owns, part.between, strict=True)
            ]
    return links


def ends_to_lift(turn: Turnover, link: Link) -> tuple[str, ...]:
    """Where a link that comes out has to be lifted; elsewhere it leaves with a part."""
    one, other = link.ends
    if link.jumper and turn.goes(one):
        return ()
    if link.wire is None:
        return (other,)
    held = (place for place in link.ends if place != CUT)
    return tuple(place for place in held if not is_own_lead(turn, link, place))


def is_own_lead(turn: Turnover, link: Link, place: str) -> bool:
    """Whether the end of a link on a part that comes out may be that part's own lead.

    A wire without a colour on a part with wire leads most often is that lead.
    """
    if link.colour or not turn.goes(place):
        return False
    return hangs_on_its_leads(turn.old[part_of(place)])


def cost_out(turn: Turnover, link: Link) -> int:
    """Of taking it out."""
    return END * len(ends_to_lift(turn, link))


def cost_in(link: Link) -> int:
    """Of a new one: a part's lead lands once, a wire is cut and lands twice."""
    return END if link.wire is None else 2 * END + _CUT


def reused(turn: Turnover, old: Link, new: Link) -> Pair | None:
    """The cheaper way to make one link of another; None if it cannot serve."""
    if not _suits(old.wire, new.wire):
        return None
    ways = [_one_way(turn, old, new, crossed) for crossed in (False, True)]
    return min((way for way in ways if way), key=lambda pair: pair.cost, default=None)


def _one_way(turn: Turnover, old: Link, new: Link, crossed: bool) -> Pair | None:
    pair = Pair(old, new, crossed, 0)
    kept = [turn.is_kept(*end) for end in pair.ends]
    handed = [turn.is_handed(*end) for end in pair.ends]
    on_something = any(k and end[0] != CUT for k, end in zip(kept, pair.ends, strict=True))
    if not on_something and not all(handed):
        return None
    if any(is_own_lead(turn, old, place) for place in old.ends):
        return None
    if not all(kept) and not _long_enough(old.wire, new.wire):
        return None
    if not _leads_stay_on(pair, kept):
        return None
    cost = sum(_end_cost(turn, *end) for end in pair.ends) + _unlike(old, new)
    return Pair(old, new, crossed, cost)


def _leads_stay_on(pair: Pair, kept: list[bool]) -> bool:
    """A lead cannot leave its own part."""
    own_old = [pair.old.wire is None, False]
    own_new = [pair.new.wire is None and not pair.crossed, pair.new.wire is None and pair.crossed]
    return all(k for k, a, b in zip(kept, own_old, own_new, strict=True) if a or b)


def _end_cost(turn: Turnover, old: str, new: str) -> int:
    if turn.is_kept(old, new):
        return 0
    if CUT in (old, new):
        return END + _FAR
    if not turn.is_handed(old, new):
        return 2 * END + _FAR
    return 2 * END + (0 if old.split(".")[-1] == new.split(".")[-1] else _OTHER_LUG)


def _unlike(old: Link, new: Link) -> int:
    cost = 0 if old.id == new.id else _OTHER_ID
    if old.colour == new.colour:
        return cost
    return cost + (_OTHER_COLOUR if old.colour and new.colour else _UNSURE_COLOUR)


def _suits(old: Wire | None, new: Wire | None) -> bool:
    """Whether an old wire is good enough: what it is known to lack, it cannot be asked for."""
    if old is None or new is None:
        return True
    if new.screened and not old.screened:
        return False
    if old.gauge and new.gauge and old.gauge != new.gauge:
        return False
    volts = old.insulation_volts, new.insulation_volts
    return volts[0] is None or volts[1] is None or volts[0] >= volts[1]


def _long_enough(old: Wire | None, new: Wire | None) -> bool:
    lengths = [w.length_metres if w else None for w in (old, new)]
    return lengths[0] is None or lengths[1] is None or lengths[0] >= lengths[1]


def doubts(old: Link, new: Link) -> Iterator[str]:
    """What the plan says of a wire that is not known, or not so, of the old one that serves."""
    if new.colour and old.colour and new.colour != old.colour:
        yield f"the plan says {new.colour}, this one is {old.colour}"
    elif new.colour and not old.colour and old.wire:
        yield f"the plan says {new.colour}; the colour of this one is not known"
    if not old.wire or not new.wire:
        return
    if CUT in old.ends and CUT not in new.ends:
        yield "it was cut off: see that it reaches and is sound, else a new wire"
    if new.wire.insulation_volts is not None and old.wire.insulation_volts is None:
        yield f"see that its insulation stands {new.wire.insulation_volts:g} V, else a new wire"
    if new.wire.gauge and not old.wire.gauge:
        yield f"see that it is {new.wire.gauge}, else a new wire"
    if new.wire.twisted_with:
        yield f"twisted with {new.wire.twisted_with}"
