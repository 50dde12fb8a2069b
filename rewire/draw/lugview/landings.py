"""What lands on each lug of a switch: wires, jumpers, leads of parts, nets.

This is the only place where the lug view reads the spec's wirings; placing and
routing see nothing but these records.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass
from typing import Literal

from rewire.circuit.circuit import Nets
from rewire.records.spec import CUT, Net, Part, Spec, Switch, Wire, Wiring

Kind = Literal["wire", "part", "net", "jumper"]
_NAMED_AT_MOST = 3


@dataclass(frozen=True, slots=True)
class Landing:
    """One thing soldered to a lug, in the words of its label."""

    lug: str
    kind: Kind
    id: str
    text: str
    colour: str | None = None
    marked: bool = False
    """Whether it is to catch the eye."""

    @property
    def shows(self) -> str:
        """How the scene names it."""
        return f"{self.kind}:{self.id}"


@dataclass(frozen=True, slots=True)
class Jumper:
    """A wire from one lug of the switch to another of its lugs."""

    id: str
    ends: tuple[str, str]
    colour: str | None
    said: str = ""
    """Its number as printed, where that is not its id."""
    ends_said: tuple[str, str] | None = None
    """Its lugs as printed, where those are not their keys."""
    marked: bool = False
    """Whether it is to catch the eye."""

    @property
    def shows(self) -> str:
        """How the scene names it."""
        return f"jumper:{self.id}"

    def landings(self, deck: Mapping[str, int] | None = None) -> tuple[Landing, Landing]:
        """Its two ends as labels that refer to each other, where no line can be drawn.

        ``deck`` gives a lug's deck by number where the two ends are on different ones.
        """
        return (self._end(0, 1, deck), self._end(1, 0, deck))

    def _end(self, here: int, there: int, deck: Mapping[str, int] | None) -> Landing:
        on = f" (deck {deck[self.ends[there]]})" if deck else ""
        letters = f" {self.colour}" if self.colour else ""
        lug = (self.ends_said or self.ends)[there]
        text = f"{self.said or self.id}{letters} → lug {lug}{on}"
        return Landing(self.ends[here], "jumper", self.id, text, self.colour, self.marked)


@dataclass(frozen=True, slots=True)
class Landed:
    """Everything that lands on one switch in one wiring."""

    labels: tuple[Landing, ...]
    jumpers: tuple[Jumper, ...]
    net_of: dict[str, str]
    """Bare lug → a name for its net that is the same for all lugs on it."""


def landed_on(spec: Spec, wiring: Wiring, switch: Switch, nets: Nets) -> Landed:
    """Sort everything that touches the switch by lug, in the order of the file."""
    parts = spec.parts_of(wiring)
    labels = [
        *(
            _wire_end(w, lug, other)
            for w in (*wiring.wires, *wiring.cut_wires)
            for lug, other in _outgoing(w, switch)
        ),
        *(lead for part in parts.values() for lead in _leads(part, switch)),
        *(member for net in wiring.nets for member in _net_members(net, switch)),
    ]
    jumpers = [j for w in wiring.wires if (j := _jumper(w, switch)) is not None]
    net_of = {lug: f"net {nets.of[switch.terminal(lug)]}" for lug in switch.terminals}
    return Landed(tuple(labels), tuple(jumpers), net_of)


def named(wire: Wire | Jumper) -> str:
    """Id and colour letters: ``W12 RD``."""
    return f"{wire.id} {wire.colour}" if wire.colour else wire.id


def lug_of(terminal: str, switch: Switch) -> str | None:
    """The bare lug if the terminal is one of the switch's, else None."""
    part, _, lug = terminal.partition(".")
    return lug if lug and part == switch.name else None


def thickness(jumper: Jumper) -> float:
    """Of its line, mm."""
    return 0.95 if jumper.marked else 0.5


def numbers_of(jumpers: Iterable[Jumper]) -> dict[str, str]:
    """What a jumper's line shows → the number printed in it."""
    return {jumper.shows: jumper.said or jumper.id for jumper in jumpers}


def _outgoing(wire: Wire, switch: Switch) -> Iterator[tuple[str, str]]:
    lugs = [lug_of(end, switch) for end in wire.ends]
    if lugs[0] is not None and lugs[1] is None:
        yield lugs[0], wire.ends[1]
    if lugs[1] is not None and lugs[0] is None:
        yield lugs[1], wire.ends[0]


def _wire_end(wire: Wire, lug: str, other: str) -> Landing:
    goes = "cut off" if other == CUT else other
    return Landing(lug, "wire", wire.id, f"{named(wire)} → {goes}", wire.colour)


def _jumper(wire: Wire, switch: Switch) -> Jumper | None:
    first, second = (lug_of(end, switch) for end in wire.ends)
    if first is None or second is None:
        return None
    return Jumper(wire.id, (first, second), wire.colour)


def _leads(part: Part, switch: Switch) -> Iterator[Landing]:
    if part.between is None:
        return
    for own, place in zip(part.terminals, part.between, strict=False):
        lug = lug_of(place, switch)
        if lug is not None:
            terminal = part.terminal(own)
            yield Landing(lug, "part", terminal, f"{terminal}, the part's own lead")


def _net_members(net: Net, switch: Switch) -> Iterator[Landing]:
    for member in net.members:
        lug = lug_of(member, switch)
        if lug is not None:
            yield Landing(lug, "net", _net_id(net, member), _on_net(net, member, switch))


def net_names(wiring: Wiring) -> dict[str, Net]:
    """The id of a landing of kind ``net`` → that net."""
    return {_net_id(net, member): net for net in wiring.nets for member in net.members}


def _net_id(net: Net, member: str) -> str:
    return f"{net.name or net.place}@{member}"


def _on_net(net: Net, member: str, switch: Switch) -> str:
    """Points before lugs of parts: a point is a place one can put a finger on."""
    others = sorted((m for m in net.members if m != member), key=lambda m: "." in m)
    short = [lug if (lug := lug_of(m, switch)) is not None else m for m in others]
    shown = ", ".join(short[:_NAMED_AT_MOST])
    more = len(short) - _NAMED_AT_MOST
    tail = f" and {more} more" if more > 0 else ""
    head = f"{net.name}: " if net.name else ""
    return f"{head}on net with {shown}{tail}" if short else f"{head}on a net of its own"
