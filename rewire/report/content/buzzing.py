"""The continuity table: what the ohmmeter must find between lugs, position by position."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterator, Sequence

from rewire.bench.continuity import (
    LEADS,
    Pair,
    Positions,
    Probe,
    by_hand,
    expected,
    good_range,
    marked,
    overdriven,
    rectified,
    set_first,
)
from rewire.bench.work_list import capital
from rewire.records.parts import COLD
from rewire.records.spec import Lamp, Wiring
from rewire.report.packet import Packet
from rewire.report.section import Block, Cell, Section, Table, Words

_ACROSS = 5
"""Positions side by side in one table; more go into the next."""
_BEFORE = (
    "Power off, everything discharged, this wiring alone: 'open' and every figure count on what "
    "the spec declares. What else hangs on these places in the set reads along, so record the "
    "same pairs before anything is lifted. Touch the leads together first and take that off: "
    f"'closed' is under {LEADS:g} Ω above it. A beeper sounds through a low shunt too: where ohms "
    "stand here, read ohms. In brackets from what to what a reading is good."
)
_DELICATE = (
    "An ohmmeter drives current through a meter's movement and may bend its pointer: where the "
    "way leads through one, use the highest range that still shows the figure, or lift one lead "
    "of the meter."
)


def buzzing_sections(packet: Packet) -> Iterator[Section]:
    """One section for each planned wiring."""
    for wiring in packet.plans:
        probes = packet.probes.get(wiring.name, ())
        title = f"Continuity: {wiring.name}"
        blocks = tuple(_blocks(packet, wiring, probes)) if probes else ()
        yield Section("continuity", title, blocks)


def _blocks(packet: Packet, wiring: Wiring, probes: Sequence[Probe]) -> Iterator[Block]:
    yield Words(_BEFORE)
    yield Words(_DELICATE)
    for text in overdriven(probes):
        yield Words(capital(text), mark="!", bold=True)
    parts = packet.spec.parts_of(wiring).values()
    yield from (Words(capital(text), mark="!", bold=True) for text in by_hand(parts))
    values = packet.values.get(wiring.name)
    for pot in values.pots if values is not None else ():
        if pot.setting_percent is not None:
            yield Words(capital(set_first(pot.part, pot.setting_percent)), mark="–")
    if any(isinstance(part, Lamp) for part in parts):
        yield Words(f"Lamps are counted cold: about {COLD:g} of their ohms when lit.")
    yield from (Words(f"{text}.") for text in rectified(parts))
    states = list(dict.fromkeys(_key(probe.state) for probe in probes))
    for start in range(0, len(states), _ACROSS):
        yield _table(probes, states[start : start + _ACROSS])


def _key(state: Positions) -> tuple[tuple[str, str], ...]:
    return tuple(state.items())


def _table(probes: Sequence[Probe], states: Sequence[tuple[tuple[str, str], ...]]) -> Table:
    found: dict[Pair, dict[tuple[tuple[str, str], ...], Probe]] = defaultdict(dict)
    for probe in probes:
        found[probe.between][_key(probe.state)] = probe
    rows = tuple(
        (Cell(pair[0], bold=True), Cell(pair[1], bold=True), *(_cell(at[s]) for s in states))
        for pair, at in found.items()
    )
    head = ("from", "to", *(_position(state, states) for state in states))
    return Table(head, rows, (26.0, 26.0, *(28.0 for _ in states)))


def _position(
    state: tuple[tuple[str, str], ...], states: Sequence[tuple[tuple[str, str], ...]]
) -> str:
    """Only the controls that tell the columns apart, or all if there is one column."""
    telling = [pair for n, pair in enumerate(state) if len({other[n] for other in states}) > 1]
    return ", ".join(f"{name} {at}" for name, at in telling or state) or "always"


def _cell(probe: Probe) -> Cell:
    good = good_range(probe)
    said = marked(expected(probe), probe) + (f" ({good})" if good else "")
    return Cell(said, box=True, bold=probe.expect == "closed")
