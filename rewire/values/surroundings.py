"""What the set and the meter do to each other besides the readings."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace
from math import isinf, sqrt

import numpy as np

from rewire.circuit.dc import Array, Ends
from rewire.records.parts import Capacitor, Diode
from rewire.records.spec import Point, Reading, Spec
from rewire.values import cases
from rewire.values.answers import Caution, Readout
from rewire.values.cases import at
from rewire.values.dc_network import NO_VALUE, Branch
from rewire.values.meter_circuit import Setup, Solved
from rewire.values.readings import NOT_A_SUM, reading_circuit
from rewire.values.tolerance import extremes
from rewire.words.quantity import in_ohms, with_unit

MOST_PERCENT = 2.0
"""Percent of full scale by which a new meter may load the set more without a word."""
_READABLE = 0.5
"""Percent of a true value worth a word."""
OPEN_SHARE = 0.25
"""Share of its forward volts below which a diode takes nothing worth reading."""
_PROBE_OHMS = 1e15
_NOT_RECTIFIED = (
    "needs a rectifier, for a moving coil stands still on AC; a meter made for AC, its rectifier "
    "in its case, says so: ac: yes"
)
_ACROSS = (
    "a diode lies across the moving coil: no sum of resistances; calibrate against a known source"
)


def source_ohms(spec: Spec, reading: Reading) -> float:
    """Ohms that the set has behind the places of a reading; 0 where none are stated."""
    if reading.source_resistance:
        return reading.source_resistance
    return sum(p.source_resistance for name in reading.places if (p := spec.points.get(name)))


def loading_percent(spec: Spec, reading: Reading, insertion: float | None) -> float | None:
    """Percent of the true value that a meter of so many ohms takes: two resistances divide it."""
    source = source_ohms(spec, reading)
    if not source or insertion is None:
        return None
    if isinf(insertion):
        return 0.0 if reading.quantity == "voltage" else 100.0
    takes = source if reading.quantity == "voltage" else insertion
    return 100.0 * takes / (source + insertion)


def loading_note(reading: Reading, now: float | None, before: float | None) -> str | None:
    """How much of the true value the metering takes, in words; None if too little to be read."""
    if now is None or now < _READABLE:
        return None
    same = before is not None and f"{before:.3g}" == f"{now:.3g}"
    other = "" if before is None else f", with the original by {before:.3g} %"
    was = ", as with the original" if same else other
    counted = reading.quantity == "voltage" and reading.source_resistance
    here = " (counted here)" if counted else ""
    if reading.quantity == "current":
        return f"what is in circuit lowers the current by {now:.3g} %{was}"
    return f"the meter loads the set: the true value drops by {now:.3g} %{here}{was}"


def loading_told(spec: Spec, reading: Reading, one: Readout) -> Iterator[Caution]:
    """A warning where the new meter loads the set noticeably more than the original."""
    now, before = one.loading_percent, one.original_loading_percent
    if now is not None and before is not None and now - before > MOST_PERCENT:
        behind = in_ohms(source_ohms(spec, reading))
        does = "loads the set more: the true value drops"
        if reading.quantity == "current":
            does = "lowers the current more:"
        said = (
            f"{one.name}: behind {behind} the new meter {does} by {now:.3g} %, with the original "
            f"meter by {before:.3g} %"
        )
        yield Caution("loading", said, first=True)


def unfit(solved: Solved, ready: Setup) -> tuple[str, bool] | None:
    """Why the meter is not made for the reading's AC or DC, and whether it shows nothing then."""
    if ready.meter is None or ready.meter.ac == ready.reading.ac or ready.circuit.why == NOT_A_SUM:
        return None
    if ready.meter.ac:
        said = f"{ready.meter.name} is made for AC, and the reading does not say ac: yes"
        return f"{said}; calibrate against a known source", False
    network = solved.network
    ties = network.ties(network.full_state(ready.states[0]))
    at_meter = {ties.root(node) for node in network.nodes_of(ready.meter)}
    for diode in solved.spec.all_of(Diode, network.wiring).values():
        if {ties.root(node) for node in network.nodes_of(diode)} == at_meter:
            return _ACROSS, False
    return _NOT_RECTIFIED, True


def begins_to_conduct(solved: Solved, ready: Setup) -> str | None:
    """The first diode that takes a share of a reading's current, in words; None if all stay open.

    Raises:
        LimitReached: as ``extremes``.

    Source: what ``extremes`` finds through a probe of so many ohms across the diode that it takes
    nothing; AC drives it at its crests, √2 × rms, and either way round.
    """
    for diode in solved.spec.all_of(Diode, solved.network.wiring).values():
        if not diode.conducts_at:
            continue
        probed = solved.network.copy()
        anode, cathode = probed.nodes_of(diode)
        probed.add_branch("probe", (anode, cathode), _PROBE_OHMS)
        seen = reading_circuit(probed, ready.reading, "probe", ready.states[0])
        if seen.meter is None or seen.blind:
            continue
        values = [*solved.known, np.array([_PROBE_OHMS])]
        ends = extremes(probed, seen, values, ready.reading.name)
        most = sqrt(2.0) * max(map(abs, ends)) if ready.reading.ac else ends[1]
        begins = OPEN_SHARE * diode.conducts_at
        if most * _PROBE_OHMS > begins:
            return (
                f"{diode.name} gets up to {with_unit(most * _PROBE_OHMS, 'V', 3)} forward at full "
                f"scale and takes current from about {with_unit(begins, 'V', 3)} on: no sum of "
                "resistances; calibrate against a known source"
            )
    return None


def neglected(solved: Solved) -> Iterator[Caution]:
    """Sources in a meter's own circuit, AC that is not marked, capacitors across AC."""
    for ready in solved.setups.values():
        yield from _not_counted(solved, ready)
        if ready.reading.ac:
            yield from _capacitors(solved, ready)
            continue
        for name in ready.reading.places:
            point = solved.spec.points.get(name)
            if point is not None and point.ac:
                said = "is an AC point, and the reading does not say ac: yes"
                yield Caution("ac", f"{ready.reading.name}: {name} {said}", first=True)


def _not_counted(solved: Solved, ready: Setup) -> Iterator[Caution]:
    """Points with volts that alone would move the pointer, and that the reading does not name."""
    reading, pairs = ready.reading, solved.network.pairs(ready.reading)
    if ready.meter is None or not ready.full_scale or pairs is None:
        return
    readings = solved.network.wiring.readings.values()
    named = {*reading.places, *(p for r in readings for drive in r.also for p in drive.places)}
    named |= {place for r in readings if r.quantity == "current" for place in r.places}
    for point in solved.spec.points.values():
        if point.name in named or not point.volts or point.ac != reading.ac:
            continue
        percent = 100.0 * _alone(solved, ready, point, pairs[0])
        if abs(percent) > _READABLE:
            volts = with_unit(point.volts, "V", 3)
            said = (
                f"{reading.name}: {point.name} ({volts}) stands in the meter's own circuit and is "
                f"not counted; alone it moves the pointer by {percent:+.3g} % of full scale"
            )
            yield Caution("not-counted", said, first=True)


def _alone(solved: Solved, ready: Setup, point: Point, ends: Ends) -> float:
    """Times full scale through the meter with one point live and the reading's own drive off.

    Source: superposition: a current that is off is open, a voltage a short behind its resistance.
    """
    network, own = solved.network, ready.reading
    chassis = next((one.name for one in solved.spec.points.values() if one.chassis), None)
    samples = cases.samples_of(network, solved.values, network.full_state(ready.states[0]))
    if chassis is None:
        return 0.0
    if own.quantity == "voltage":
        branches = [*samples.branches, Branch(own.name, ends, NO_VALUE)]
        ohms = [*samples.ohms, np.array([own.source_resistance])]
        samples = replace(samples, branches=branches, ohms=ohms)
    live = replace(
        own, quantity="voltage", places=(point.name, chassis), full_scale=point.volts or 0.0,
        source_resistance=point.source_resistance, also=(),
    )  # fmt: skip
    pointer = cases.pointer_of(samples, replace(ready, reading=live))
    return 0.0 if pointer is None else float(pointer.reads[0])


def _capacitors(solved: Solved, ready: Setup) -> Iterator[Caution]:
    """Capacitors between two nodes of an AC reading's circuit."""
    network = solved.network
    nodes = {end for branch in ready.circuit.branches for end in branch.ends}
    for name, part in solved.spec.all_of(Capacitor, network.wiring).items():
        ends = set(network.nodes_of(part))
        if len(ends) == 2 and ends <= nodes:
            said = (
                f"{ready.reading.name}: {name} lies across the circuit of an AC reading; "
                "what it takes is not counted"
            )
            yield Caution("ac", said, first=True, part=name)


def wrong_ranges(solved: Solved) -> Iterator[Caution]:
    """For each reading, the worst that full scale of another one's current does to its meter."""
    network, setups = solved.network, solved.setups.values()
    for here in setups:
        samples = cases.samples_of(network, solved.values, network.full_state(here.states[0]))
        usual = cases.pointer_of(samples, here)
        worst, reading = 0.0, here.reading
        for there in (one.reading for one in setups if one.states[0] != here.states[0]):
            if there.quantity == "current" and usual is not None:
                pointer = cases.pointer_of(samples, replace(here, reading=there))
                takes = 0.0 if pointer is None else abs(float(pointer.takes[0]))
                if takes > worst and cases.overloads(takes, float(usual.takes[0])):
                    worst, reading = takes, there
        if worst:
            amps, name = with_unit(reading.full_scale, "A", 3), here.meter_name
            said = (
                f"{name} takes {cases.shown_times(worst)} times full scale in {here.reading.name} "
                f"while the {amps} of {reading.name} flows: set the range before the current"
            )
            yield Caution("wrong-range", said, False, name)


def rules_at_rest(solved: Solved) -> Iterator[Caution]:
    """Rules that are broken at rest, and those that a build inside its tolerances may break.

    Raises:
        LimitReached: more states than are looked at.

    Source: ohms between two points never fall when any resistance rises (Rayleigh).
    """
    network, spec, values = solved.network, solved.spec, _at_ends(solved)
    broken, tight = set[int](), set[int]()
    for state in cases.states_watched(network, "rules") if spec.rules else ():
        samples = cases.samples_of(network, values, state)
        watched = cases.watch(samples, cases.rules_at(network, state))
        broken.update(number for number, lost in watched.broken.items() if at(lost, 0))
        tight.update(number for number, lost in watched.broken.items() if lost.any())
    for number in sorted(broken):
        said = f"rule {number + 1} is broken: {cases.rule_lost(spec, number)}"
        yield Caution("rule", said, bad=True)
    for number in sorted(tight - broken):
        said = f"rule {number + 1} holds as written; with tolerances at their worst "
        yield Caution("rule-tolerance", said + cases.rule_lost(spec, number))


def _at_ends(solved: Solved) -> list[Array]:
    """Values nominal, all parts at the least, all at the most."""
    values = list(solved.known)
    for number, value in enumerate(solved.network.values):
        if not value.is_setting:
            nominal = float(values[number][0])
            values[number] = np.array([nominal, value.low(nominal), value.high(nominal)])
    return values
