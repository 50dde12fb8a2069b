"""Contacts: amperes through them, volts across them when open, volts to shaft and panel.

Wires and capacitors are judged by the same volts.
"""

from __future__ import annotations

from collections.abc import Collection, Iterator, Sequence
from dataclasses import dataclass, field
from itertools import combinations
from math import isnan, prod

from rewire.circuit.dc import Array
from rewire.records.spec import Capacitor, Switch
from rewire.values.board import Board
from rewire.values.live import Live, live, possible_states
from rewire.values.model import Caution, Readout
from rewire.values.readings import Setup
from rewire.values.stress import carried_by
from rewire.values.trials import full_state
from rewire.words.quantity import with_unit

_MOST_STATES = 512
_HALF = 0.5
_NOTHING_GIVEN = "no volts to chassis are given for any point"
_NO_CHASSIS = "no point is said to be the chassis, so no volts to it are known"
_NOT_CHECKED = "what contacts break and insulate is not checked, and not safe"

Look = tuple[str, Live]
"""When, in words, and what every net stands at then."""


@dataclass(slots=True)
class _Most:
    """The most found between two places, and what could not be told."""

    volts: float = 0.0
    at: str = ""
    unknown: set[str] = field(default_factory=set)
    floating: set[str] = field(default_factory=set)

    def take(self, volts: float | None, at: str, lugs: Sequence[str]) -> None:
        """Note one more voltage; None is unknown, NaN floats."""
        if volts is None:
            self.unknown.update(lugs)
        elif isnan(volts):
            self.floating.update(lugs)
        elif volts > self.volts + 1e-9:
            self.volts, self.at = volts, at


def contact_warnings(
    board: Board, setups: Sequence[Setup], values: Sequence[Array | None]
) -> Iterator[Caution]:
    """What the switches have to break, carry and insulate, against their ratings."""
    yield from _amps(board, setups, values)
    switches = [p for p in board.parts.values() if isinstance(p, Switch)]
    points = board.spec.points.values()
    chassis = next((board.node(point.name) for point in points if point.chassis), None)
    if chassis is None or all(point.volts is None for point in points):
        if switches:
            why = _NO_CHASSIS if chassis is None else _NOTHING_GIVEN
            yield Caution("volts-unknown", f"{why}: {_NOT_CHECKED}")
        return
    at_rest = list(_at_rest(board, setups, values))
    risen = _at_rest(board, setups, values, ())
    seen = [*at_rest, *risen, *_on_the_way(board, setups, values)]
    for switch in switches:
        yield from _volts(board, switch, seen, chassis)
        yield from _floating(board, switch, at_rest, chassis)
    yield from _wires(board, seen, chassis)
    yield from _capacitors(board, seen)


def _amps(
    board: Board, setups: Sequence[Setup], values: Sequence[Array | None]
) -> Iterator[Caution]:
    """Contact current at full scale, the most over all readings, against what may be broken."""
    most: dict[str, tuple[float, str, str]] = {}
    for setup in setups:
        carried = carried_by(setup, values) or []
        for branch, flow in zip(setup.circuit.branches, carried, strict=False):
            if branch.control is not None and flow.at_most > most.get(branch.part, (0.0,))[0]:
                name = board.values[branch.value].name
                most[branch.part] = flow.at_most, name, setup.reading.name
    for name, (amps, contact, reading) in most.items():
        switch = board.parts[name]
        may = switch.rating.amps if isinstance(switch, Switch) else None
        if may is not None and amps > _HALF * may:
            carries, rated = with_unit(amps, "A", 3), with_unit(may, "A", 3)
            said = f"{contact} carries {carries} in {reading}, rated {rated}"
            yield Caution("contact-amps", said, amps > may, name)


def _at_rest(
    board: Board,
    setups: Sequence[Setup],
    values: Sequence[Array | None],
    opened: Collection[int] | None = None,
) -> Iterator[Look]:
    """Live volts in every state; of too many, in those of readings.

    In operation, or with ``opened`` of no section: each point at what it rises to.
    """
    controls = board.spec.controls
    for state in _states(board, setups):
        at = ", ".join(f"{name} at {controls[name].positions[p]}" for name, p in state.items())
        found = live(board, values, state, opened)
        if found is not None:
            yield at, found


def _on_the_way(
    board: Board, setups: Sequence[Setup], values: Sequence[Array | None]
) -> Iterator[Look]:
    """Live volts while one control has all of its contacts open."""
    for name in board.spec.controls:
        opened = {branch.section for branch in board.branches if branch.control == name}
        for state in _states(board, setups):
            found = live(board, values, state, opened) if state[name] == 0 else None
            if found is not None:
                yield f"while {name} moves", found


def _states(board: Board, setups: Sequence[Setup]) -> list[dict[str, int]]:
    controls = board.spec.controls
    sizes = [len(control.positions) for control in controls.values()]
    if prod(sizes) > _MOST_STATES:
        return [full_state(board, setup.states[0]) for setup in setups]
    return list(possible_states(board.spec))


def _volts(board: Board, switch: Switch, seen: Sequence[Look], chassis: int) -> Iterator[Caution]:
    across, to_shaft = _Most(), _Most()
    for at, now in seen:
        for section in switch.sections:
            for one, other in combinations(map(switch.terminal, section.lugs), 2):
                volts = now.apart(board.node(one), board.node(other))
                across.take(volts, f"{one} and {other} ({at})", [one, other])
        for name in map(switch.terminal, switch.terminals):
            to_shaft.take(now.apart(board.node(name), chassis), f"{name} ({at})", [name])
    yield from _judged(switch, across, switch.rating.volts, "between contacts")
    frame = "to its frame" if switch.style == "relay" else "to shaft and panel"
    yield from _judged(switch, to_shaft, switch.rating.shaft_volts, frame)
    said = "are not known in every position: not checked, and not safe; give the points' volts"
    yield from _listed(board, switch, across.unknown | to_shaft.unknown, "volts-unknown", said)


def _floating(
    board: Board, switch: Switch, at_rest: Sequence[Look], chassis: int
) -> Iterator[Caution]:
    """Lugs that hang on nothing in a position; between two, every open pole does."""
    found = _Most()
    for at, now in at_rest:
        for name in map(switch.terminal, switch.terminals):
            found.take(now.apart(board.node(name), chassis), at, [name])
    said = "hang on nothing in some position: they float there"
    yield from _listed(board, switch, found.floating - found.unknown, "floating", said)


def _listed(
    board: Board, switch: Switch, lugs: set[str], kind: str, said: str
) -> Iterator[Caution]:
    connected = [lug for lug in sorted(lugs) if len(board.nets.members[board.node(lug)]) > 1]
    if connected:
        some = ", ".join(connected[:6]) + (" …" if len(connected) > 6 else "")
        yield Caution(kind, f"{switch.name}: the volts at {some} {said}", False, switch.name)


def _judged(switch: Switch, most: _Most, may: float | None, said: str) -> Iterator[Caution]:
    if most.volts < 1.0:
        return
    volts = with_unit(most.volts, "V", 3)
    if may is None:
        if most.volts >= 50.0:
            text = f"{switch.name}: {volts} {said} at {most.at}, and no rating is stated: unknown"
            yield Caution("contact-volts", text, False, switch.name)
    elif most.volts > may:
        text = f"{switch.name}: {volts} {said} at {most.at}, rated {with_unit(may, 'V', 3)}"
        yield Caution("contact-volts", text, True, switch.name)


def _wires(board: Board, seen: Sequence[Look], chassis: int) -> Iterator[Caution]:
    """Wires whose insulation is stated and stands less than the volts on them."""
    for wire in board.wiring.wires:
        if wire.insulation_volts is None:
            continue
        most = _Most()
        for at, now in seen:
            most.take(now.apart(board.node(wire.ends[0]), chassis), at, [])
        if most.volts > wire.insulation_volts:
            volts, may = with_unit(most.volts, "V", 3), with_unit(wire.insulation_volts, "V", 3)
            said = f"wire {wire.id} stands at {volts} ({most.at}), its insulation is for {may}"
            yield Caution("insulation", said, True)


def _capacitors(board: Board, seen: Sequence[Look]) -> Iterator[Caution]:
    """Capacitors across more volts than they are rated for."""
    for part in board.parts.values():
        if not isinstance(part, Capacitor) or part.rating_volts is None:
            continue
        one, other = (board.node(part.terminal(lug)) for lug in part.terminals)
        most = _Most()
        for at, now in seen:
            most.take(now.apart(one, other), at, [])
        if most.volts > part.rating_volts:
            volts, may = with_unit(most.volts, "V", 3), with_unit(part.rating_volts, "V", 3)
            when = f" ({most.at})" if most.at else ""
            said = f"{part.name} has {volts} across it{when}, rated {may}"
            yield Caution("rating", said, True, part.name)


def telling_contacts(board: Board, readouts: Sequence[Readout]) -> Iterator[Caution]:
    """Contacts that alone, new or worn, put a reading beyond what it accepts."""
    for one in readouts:
        for share in one.shares:
            part = next((v.part for v in board.values if v.name == share.value), "")
            if isinstance(board.parts.get(part), Switch) and share.size > one.accept_percent:
                said = (
                    f"{one.name}: contact {share.value} lies where its milliohms count: worn, it "
                    f"alone makes {share.size:.3g} % of full scale; land the meter's leads so "
                    "that no contact stands between them and the shunt"
                )
                yield Caution("contact", said, part=part, first=True)
