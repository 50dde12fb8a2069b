"""A reading as a circuit: what drives it, what its meter takes, what its parts stand."""

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, field, replace
from fractions import Fraction
from functools import cached_property
from typing import Any

from tests.simulator.netlist import Circuit, Ends, Source
from tests.simulator.quantities import built, quantity
from tests.simulator.reader import SOUND, WORN, Branch, Net, Rig, State, Upset, Values, kind_of

Volts = Mapping[str, Any]
"""Volts of nodes, in floats or fractions."""


@dataclass(frozen=True)
class Taken:
    """A reading of a rig in a state, with one thing upset or sections on their way."""

    rig: Rig
    name: str
    state: State
    upset: Upset = SOUND
    worn: bool = False
    leads: bool = False
    moving: Mapping[int, Sequence[tuple[str, ...]]] = field(default_factory=dict)

    @cached_property
    def reading(self) -> dict[str, Any]:
        return self.rig.readings[self.name]

    @cached_property
    def current(self) -> bool:
        return "current" in self.reading

    @cached_property
    def full_scale(self) -> Fraction:
        return quantity(self.reading["full_scale"])

    @cached_property
    def behind(self) -> Fraction:
        return Fraction(0) if self.current else quantity(self.reading.get("source_resistance", "0"))

    @cached_property
    def drives(self) -> list[tuple[Ends, Fraction]]:
        """The reading's own places and full scale, then the standing currents."""
        own = self.reading.get("current") or self.reading["voltage"]
        also = [(d["current"], quantity(d["amount"])) for d in self.reading.get("also", ())]
        return [
            ((self.rig.here(one), self.rig.here(two)), amount)
            for (one, two), amount in [(own, self.full_scale), *also]
        ]

    @cached_property
    def meter(self) -> str:
        return self.rig.meter(self.reading)

    @cached_property
    def meter_amps(self) -> Fraction:
        """The meter's full scale, in amperes."""
        written = self.rig.parts[self.meter]["meter"]
        full = quantity(written)
        return full / self.rig.nominal[self.meter] if written.rstrip().endswith("V") else full

    @cached_property
    def whole(self) -> Net:
        return self.rig.net(self.state, self.upset, self.worn, self.moving, self.leads)

    @cached_property
    def net(self) -> Net:
        """What can carry current between the places of any drive."""
        return self.whole.kept([ends for ends, _ in self.drives])

    def everywhere(self) -> "Taken":
        """The same over the whole wiring, what hangs on without current too."""
        other = replace(self)
        vars(other)["net"] = self.whole
        return other

    @cached_property
    def tied(self) -> list[bool]:
        """Of each drive, whether contacts and wires alone join its places."""
        nodes = self.whole.joined.copy()
        for branch in self.whole.branches:
            if "–" in branch.name:
                nodes.join(branch.ends)
        return [nodes(one) == nodes(two) for (one, two), _ in self.drives]

    @cached_property
    def linked(self) -> list[bool]:
        """Of each drive, whether a current can flow from its one place to the other."""
        nodes = self.whole.joined.copy()
        for branch in self.whole.branches:
            nodes.join(branch.ends)
        return [nodes(one) == nodes(two) for (one, two), _ in self.drives]

    def blocked(self) -> bool:
        """Whether the meter is reached, but only over a diode or a capacitor."""
        if any(b.part == self.meter for b in self.net.branches):
            return False
        rig = self.rig
        lugs = {n: ("A", "K") if "diode" in p else ("1", "2") for n, p in rig.parts.items()}
        open_ones = [n for n, p in rig.parts.items() if kind_of(p) in ("diode", "capacitor")]
        links = {b.name: b.ends for b in self.whole.branches}
        links |= {n: (f"{n}.{lugs[n][0]}", f"{n}.{lugs[n][1]}") for n in open_ones}
        wide = Net([_link(n, ends) for n, ends in links.items()], self.whole.joined)
        reached = wide.kept([ends for ends, _ in self.drives])
        meters = {b.name for b in self.whole.branches if b.part == self.meter}
        return any(branch.name in meters for branch in reached.branches)

    def made_for_it(self) -> bool:
        """Whether the meter is made for AC where the reading is AC, and only there."""
        return self.rig.parts[self.meter].get("ac", "no") == self.reading.get("ac", "no")

    def answer(self) -> str:
        """``sum``, or ``null`` where the model leaves no figure.

        A moving coil stands still on AC; what a meter for AC makes of DC is not given. A drive
        without a way back leaves none, nor do volts across places that are joined, nor a meter
        that is reached over a diode or a capacitor alone.
        """
        ways_back = all(self.linked[1:]) and (self.linked[0] or not self.current)
        joined = self.tied[0] and not self.current
        if not self.made_for_it():
            return "null"
        return "sum" if ways_back and not joined and not self.blocked() else "null"

    def flows(self) -> bool:
        """Whether currents flow that the parts must stand, whatever becomes of the meter."""
        own = self.linked[0] and not self.tied[0]
        joined = self.tied[0] and not self.current
        lost = not self.linked[0] and self.current
        return all(self.linked[1:]) and not joined and not lost and (own or len(self.drives) > 1)

    def circuit(self, values: Values, share: Fraction = Fraction(1)) -> Circuit:
        """At so much of full scale, the standing currents with it."""
        resistors, nodes = self.net.merged(values)
        pairs = [((nodes(one), nodes(two)), amount) for (one, two), amount in self.drives]
        flowing = [p for p, on in zip(pairs[1:], self.linked[1:], strict=True) if on]
        flowing = [(ends, amps) for ends, amps in flowing if ends[0] != ends[1]]
        own, amount = pairs[0]
        if self.current:
            through = [] if self.tied[0] else [(own, amount * share)]
            return Circuit(resistors, [*through, *flowing])
        source = Source(own, amount * share, self.behind) if self.linked[0] else None
        return Circuit(resistors, flowing, source)

    def unit(self, drive: int, values: Values) -> Circuit:
        """One ampere through the places of a drive alone; the same circuit whenever asked."""
        key = drive, id(values)
        if key not in self.units:
            resistors, nodes = self.net.merged(values)
            one, two = (nodes(place) for place in self.drives[drive][0])
            through = [((one, two), Fraction(1))] if one != two else []
            self.units[key] = values, Circuit(resistors, through)
        return self.units[key][1]

    @cached_property
    def units(self) -> dict[tuple[int, int], tuple[Values, Circuit]]:
        return {}

    def across(self, ends: Ends, values: Values, volts: Volts) -> Any:
        nodes = self.net.merged(values)[1]
        return volts.get(nodes(ends[0]), 0) - volts.get(nodes(ends[1]), 0)

    def through_meter(self, values: Values, volts: Volts) -> Any:
        """Amperes from the meter's plus to its minus."""
        if not any(b.name == self.meter for b in self.net.branches):
            return 0
        ends = f"{self.meter}.+", f"{self.meter}.-"
        ohms = values[self.meter]
        across = self.across(ends, values, volts)
        return across / (ohms if isinstance(across, Fraction) else float(ohms))

    def loads(self, part: str, values: Values, volts: Volts) -> Iterator[tuple[float, float]]:
        """Volts and amperes of each piece of a part."""
        nodes = self.net.merged(values)[1]
        for branch in self.net.branches:
            if branch.part != part or "–" in branch.name or not branch.ohms(values):
                continue
            one, two = (nodes(end) for end in branch.ends)
            drop = abs(float(volts.get(one, 0) - volts.get(two, 0)))
            written = self.rig.parts[part].get("resistor", "fit")
            if written == "fit":
                yield drop, drop / float(branch.ohms(values))
                continue
            how, pieces = built(written)
            yield from how.loads(pieces, drop)

    def free(self) -> dict[str, tuple[Fraction, Fraction]]:
        """Values of the circuit that have a band, contacts among them, and its two ends."""
        found: dict[str, tuple[Fraction, Fraction]] = {}
        parts = {b.part for b in self.net.branches if "–" not in b.name}
        for name, value in self.rig.values.items():
            if value.spread and name.split("#")[0] in parts:
                found[name] = value.ends()
        for branch in self.net.branches:
            stated = self.rig.parts.get(branch.part, {}).get("contact_resistance")
            if "–" in branch.name and not stated:
                half = branch.name.count("–") > 1
                found[branch.name] = Fraction(0), WORN / 2 if half else WORN
        return found


def _link(name: str, ends: Ends) -> Branch:
    return Branch(name, name, ends, lambda _: Fraction(1))
