"""Everything about the values of a wiring, put together in the order it depends on each other."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass, field, replace
from functools import lru_cache

import numpy as np

from rewire.circuit.circuit import Case
from rewire.circuit.states import LimitReached
from rewire.records.part import Part
from rewire.records.spec import Spec
from rewire.values import ratings, readings, surroundings, tolerance
from rewire.values.answers import (
    USUAL_ACCEPT,
    Caution,
    Combination,
    Fit,
    Mishap,
    Readout,
    WiringValues,
)
from rewire.values.bench_test import bench_test
from rewire.values.cases import severity
from rewire.values.dc_network import changed
from rewire.values.dial_arcs import dial_factor, scales_told
from rewire.values.drawer import Stock, written
from rewire.values.meter_circuit import Fitted, Setup, Solved, answer, flow_of
from rewire.values.mishaps import single_faults, while_switching
from rewire.values.pots import pot_answers, pot_warnings, trimmed
from rewire.values.readings import Nominal
from rewire.values.solved import DRAWER, series_of, solved_of, with_leads
from rewire.values.supplies import supplied
from rewire.values.tolerance import Draw
from rewire.words.quantity import Piece, in_full_scale, in_ohms, with_unit

FAR_PERCENT = 5.0
"""Percent of its value by which a resistor is off too much for any panel meter; common
practice, no source."""
_LEADS_PERCENT = 0.5
"""Percent of full scale that a wire inside the meter's loop may make without a word."""
_BAND_PERCENT = 0.5
"""Percent of full scale that an unstated fuse or contact may make without a word."""


@dataclass(frozen=True, slots=True)
class Wishes:
    """What the user asks for besides the spec."""

    stocks: Sequence[Stock] = ()
    overload: float | None = None
    """Times full scale for the second sum of watts."""
    draw: Draw = field(default_factory=Draw)


def values_of(
    spec: Spec, wirings: Sequence[str] | None = None, wishes: Wishes | None = None
) -> tuple[WiringValues, ...]:
    """What the shunts, multipliers and pots of some wirings must be, and what follows from it.

    ``wirings`` are names, None for every wiring but the original.

    Raises:
        LimitReached: a question is larger than the stated limit.
        KeyError: a name that is no wiring of the spec.
    """
    asked = wishes or Wishes()
    names = [w.name for w in spec.others] if wirings is None else list(wirings)
    asked = replace(asked, stocks=tuple(asked.stocks))
    return tuple(_wiring_values(Case(spec, spec.wirings[name]), asked) for name in names)


@lru_cache(maxsize=64)
def _wiring_values(case: Case, wishes: Wishes) -> WiringValues:
    solved, original = (
        solved_of(case.spec, wiring, tuple(wishes.stocks))
        for wiring in (case.wiring, case.spec.original)
    )
    names, setups = solved.network.wiring.readings, solved.setups
    leaded, was = with_leads(solved), with_leads(original)
    limits: list[Caution] = []
    faults, switching = _mishaps(solved, original, limits)
    risen = list(ratings.risen_meters(solved))
    over, on_supplies = supplied(solved, original, {one.part or "" for one in risen if one.bad})
    found = WiringValues(
        wiring=solved.network.wiring.name,
        readings=tuple(_readout(leaded(name), was(name), name, wishes) for name in names),
        fits=tuple(_fits(solved)),
        pots=tuple(pot_answers(solved)),
        parts=tuple(ratings.part_stresses(solved, over, wishes.overload)),
        bench=tuple(test for ready in setups.values() if (test := bench_test(solved, ready))),
        switching=tuple(switching),
        faults=tuple(faults),
        refusals=tuple(
            f"{ready.reading.place}: reading {name} depends on {', '.join(loose)} in "
            f"{solved.network.wiring.name}; fix it in 'when'"
            for name, ready in setups.items()
            if (loose := readings.disagreeing(solved, ready))
        ),
        overload=wishes.overload,
    )
    leads = (said for name in names for said in _leads_told(leaded(name), name))
    around = _surroundings(solved, original, found.readings)
    told = (*limits, *_warnings(solved, found, risen), *on_supplies, *leads, *around)
    return replace(found, warnings=told)


def _warnings(solved: Solved, found: WiringValues, risen: Sequence[Caution]) -> Iterator[Caution]:
    """What the values themselves give to know."""
    yield from _notices(solved)
    if found.bench and solved.spec.bench.series_resistor_ohms is None:
        yield Caution(
            "bench",
            "no series resistor is given: add 'bench: {series_resistor: …, rating: …}'; it "
            "protects the meter if the supply is turned up too far",
        )
    yield from ratings.stress_warnings(solved, found.parts)
    yield from risen
    yield from ratings.contact_warnings(solved)
    yield from ratings.telling_contacts(solved, found.readings)
    yield from pot_warnings(solved, found.pots, found.readings)


def _surroundings(
    solved: Solved, original: Solved, readouts: Sequence[Readout]
) -> Iterator[Caution]:
    """What the set and the meter do to each other beside the readings themselves."""
    yield from ratings.shorts(solved.network, original.network)
    for one in readouts:
        yield from surroundings.loading_told(
            solved.spec, solved.network.wiring.readings[one.name], one
        )
    yield from scales_told(readouts)
    yield from ratings.bleeders(solved, original)
    fitted = {unknown.setup.reading.name for unknown in solved.unknowns}
    for one in readouts:
        if one.off or one.name in fitted:
            yield from _off_from_the_first(original, one)
    if solved.all_known:
        yield from surroundings.neglected(solved)
        yield from surroundings.wrong_ranges(solved)
        yield from surroundings.rules_at_rest(solved)


def _off_from_the_first(original: Solved, one: Readout) -> Iterator[Caution]:
    """A reading that is off in the original, which read right once: the spec may be wrong there."""
    ready = original.setups.get(one.name)
    error = None if ready is None else readings.error_percent(original, ready)
    if ready is None or error in (None, -100.0) or abs(error or 0.0) <= one.accept_percent:
        return
    reading, share = ready.reading, 1.0 + (error or 0.0) / 100.0
    said = f"{one.name}: in the original too the pointer stands at {in_full_scale(share)}"
    if share > 0.0 and not reading.also:
        unit = "A" if reading.quantity == "current" else "V"
        said += f", right for full_scale: {with_unit(reading.full_scale / share, unit, 3)}"
    elif share < 0.0:
        said += ", backwards: exchange the two points of the reading, or plus and minus"
    yield Caution("original-off", f"{said}; see {reading.place} of the spec", first=True)


def _leads_told(solved: Solved, name: str) -> Iterator[Caution]:
    """Wires that carry the main current inside the meter's loop, and what that does."""
    ready = solved.setups.get(name)
    carried = {} if ready is None else flow_of(ready.circuit, solved.values).branches
    if ready is None or not carried or ready.circuit.meter is None or not ready.full_scale:
        return
    own = carried[ready.circuit.branches[ready.circuit.meter]].at_most
    for branch, flow in carried.items():
        if branch.part in solved.network.parts or flow.at_most < 2.0 * own:
            continue
        bare = changed(solved.known, branch.value, 0.0)
        with_it, without = (answer(ready.circuit, v).amps for v in (solved.known, bare))
        off = 100.0 * float(with_it[0] - without[0]) / ready.full_scale
        if abs(off) >= _LEADS_PERCENT:
            said = (
                f"{name}: {branch.part} ({in_ohms(float(solved.known[branch.value][0]), 2)}) "
                f"carries the main current inside the meter's loop: {off:+.1f} % of full scale; "
                "solder the meter's leads to the shunt itself (four-terminal)"
            )
            yield Caution("leads", said, first=True)


def _mishaps(
    solved: Solved, original: Solved, limits: list[Caution]
) -> tuple[list[Mishap], list[Mishap]]:
    """Single faults and moments while switching; a limit is reported and the rest goes on."""
    both = zip(solved.network.values, solved.values, strict=True)
    unknown = [value.name for value, known in both if known is None]
    if unknown:
        said = "faults and moments while switching are not worked out, unknown: "
        limits.append(Caution("faults-unknown", said + ", ".join(unknown)))
        return [], []
    faults = _unless_limited(lambda: single_faults(solved), limits)
    switching = _switching(solved, limits)
    if all(moment.in_step or not moment.bad for moment in switching):
        return faults, switching
    before = [moment for moment in _switching(original, []) if moment.bad]
    return faults, [_beside(before, moment) for moment in switching]


def _switching(solved: Solved, limits: list[Caution]) -> list[Mishap]:
    """Moments with each reading, and of those without one what these do not tell already."""
    kept = _unless_limited(lambda: while_switching(solved, [*solved.setups.values()]), limits)
    for moment in _unless_limited(lambda: while_switching(solved, [None]), limits):
        if not any(
            one.what == moment.what
            and one.in_step >= moment.in_step
            and set(one.rules) >= set(moment.rules)
            and dict(one.rises).keys() >= dict(moment.rises).keys()
            for one in kept
        ):
            kept.append(moment)
    return sorted(kept, key=severity)


def _beside(before: Sequence[Mishap], one: Mishap) -> Mishap:
    """A moment, marked where it takes uneven poles and the original does all of it too then."""
    same = any(
        (one.what, one.reading) == (other.what, other.reading)
        and set(one.rules) <= set(other.rules)
        and one.overload <= other.overload
        for other in before
    )
    if one.in_step or not same:
        return one
    return replace(one, as_original=True, message=f"{one.message}; so in the original")


def _unless_limited(ask: Callable[[], list[Mishap]], limits: list[Caution]) -> list[Mishap]:
    try:
        return ask()
    except LimitReached as limit:
        limits.append(Caution("limit", str(limit)))
        return []


def _readout(solved: Solved, original: Solved, name: str, wishes: Wishes) -> Readout:
    """One reading, with what the meter takes away from the set, and how its dial is read."""
    ready, reading = solved.setups.get(name), solved.network.wiring.readings[name]
    first = original.setups.get(name)
    one = Readout(
        name=name,
        state=solved.network.fixed(reading, ready.states[0]) if ready else {},
        meter=ready.meter_name if ready else None,
        deflection=None,
        insertion_ohms=None,
        original_insertion_ohms=readings.nominal_of(original, first).insertion if first else None,
        meter_amps=None,
        note=readings.NEVER_TAKEN,
        dial=dial_factor(reading, readings.meter_of(solved.network, reading)),
    )
    if ready is not None:
        one = _taken(solved, ready, replace(one, note=None), wishes.draw)
    both = one.insertion_ohms, one.original_insertion_ohms
    now, was = (surroundings.loading_percent(solved.spec, reading, ohms) for ohms in both)
    note = _joined(one.note, surroundings.loading_note(reading, now, was))
    return replace(one, loading_percent=now, original_loading_percent=was, note=note)


def _taken(solved: Solved, ready: Setup, one: Readout, draw: Draw) -> Readout:
    """What a reading comes to, or why that is not known."""
    loose = readings.disagreeing(solved, ready)
    if loose:
        return replace(one, note=readings.depends_on(loose), refused=True)
    found = readings.nominal_of(solved, ready)
    one, wrong = replace(one, insertion_ohms=found.insertion), surroundings.unfit(solved, ready)
    if wrong is not None:
        return replace(one, note=wrong[0], dead=wrong[1])
    if found.amps is None or not ready.full_scale:
        note = found.why or "the meter's full-scale current is not known"
        dead = ready.circuit.meter is None and ready.circuit.why != readings.NOT_A_SUM
        return replace(one, meter_amps=found.amps, note=note, dead=dead)
    bends = surroundings.begins_to_conduct(solved, ready) if solved.complete(ready) else None
    if bends is not None:
        return replace(one, note=bends)
    accuracy = ready.meter.accuracy_percent if ready.meter else None
    accept = ready.reading.accept_percent
    one = replace(
        one,
        deflection=found.amps / ready.full_scale,
        meter_amps=found.amps,
        accuracy_percent=accuracy,
        accept_percent=max(accuracy or 0.0, USUAL_ACCEPT) if accept is None else accept,
    )
    one = _with_tolerances(solved, ready, one, draw)
    return replace(one, note=_joined(*_notes(solved, ready, found, one)))


def _with_tolerances(solved: Solved, ready: Setup, one: Readout, draw: Draw) -> Readout:
    """With what the tolerances do; nothing of the whole where one is not given."""
    network, circuit, full_scale = solved.network, ready.circuit, ready.full_scale or np.nan
    accuracy = one.accuracy_percent or 0.0
    if circuit.meter is None:
        same = one.error_percent or 0.0
        return replace(one, worst_low_percent=same - accuracy, worst_high_percent=same + accuracy)
    missing = [number for number in circuit.values if solved.values[number] is None]
    if missing:
        return replace(one, unstated=network.parts_of(missing))
    one = replace(
        one,
        shares=tolerance.shares(solved, circuit, full_scale),
        trimmed_percent=trimmed(solved, ready, draw.seed),
        percent_per_10_kelvin=tolerance.warmed(solved, circuit, 10.0) if one.meter_amps else None,
    )
    bare = tolerance.unstated(network, [circuit], solved.known)
    if bare:
        return replace(one, unstated=network.parts_of(bare))
    ends = tolerance.extremes(network, circuit, solved.known, ready.reading.name)
    low, high = (100.0 * (amps / full_scale - 1.0) for amps in ends)
    return replace(
        one,
        worst_low_percent=low - accuracy,
        worst_high_percent=high + accuracy,
        spread=tolerance.monte_carlo(solved, circuit, full_scale, accuracy, draw),
    )


def _joined(*notes: str | None) -> str | None:
    return "; ".join(note for note in notes if note) or None


def _notes(solved: Solved, ready: Setup, found: Nominal, one: Readout) -> Iterator[str | None]:
    """What to know of a reading: fuses and contacts of unstated ohms that move it among it."""
    yield found.why
    if found.amps is not None and found.amps < 0.0:
        zero = ready.meter.zero if ready.meter else "left"
        goes = "to the wrong side of its centre" if zero == "centre" else "off the scale"
        yield f"the current goes through the meter backwards: the pointer moves {goes}"
    if ready.reading.ac:
        yield "rms values; only resistance is counted"
    by_name = {value.name: value for value in solved.network.values}
    for share in one.shares:
        value = by_name.get(share.value)
        if value is not None and value.most is not None and share.size >= _BAND_PERCENT:
            most = in_ohms(value.most, 3)
            yield f"the ohms of {value.name} are not stated: 0 to {most} in the worst case"


def _fits(solved: Solved) -> Iterator[Fit]:
    for unknown in solved.unknowns:
        part = solved.network.parts[unknown.part]
        if unknown.is_setting:
            continue
        reading, exact = unknown.setup.reading.name, solved.exact.get(part.name)
        if exact is None:
            why = solved.found[part.name].why
            yield Fit(part.name, reading, None, None, None, None, part.choose, why=why)
            continue
        ohms = solved.chosen.get(part.name, exact)
        best = solved.combined.get(part.name, [])
        yield Fit(
            part=part.name,
            reading=reading,
            exact_ohms=exact,
            chosen_ohms=ohms,
            chosen=best[0].written if best else written(Piece(ohms)),
            error_percent=readings.error_percent(solved, unknown.setup),
            choose=series_of(part, ohms) or part.choose,
            others=tuple(best),
            why=_why_chosen(part, best, solved.found[part.name]),
        )


def _why_chosen(part: Part, best: Sequence[Combination], found: Fitted) -> str | None:
    """What to know about a choice: nothing near it in the drawer, or taken for want of better."""
    if best and abs(off := best[0].error_percent) > FAR_PERCENT:
        return f"nothing in the drawer comes near: the best is {abs(off):,.0f} % off"
    if not best and len(found.solutions) > 1:
        return f"{len(found.solutions)} solutions; the first is taken"
    if not best and part.choose is None:
        return "no 'choose' is given: the exact value is taken"
    return None


def _notices(solved: Solved) -> Iterator[Caution]:
    """What was taken for granted: drawers asked for and not given, pots without a setting."""
    for name, part in solved.network.parts.items():
        if part.choose == DRAWER and name in solved.exact and name not in solved.chosen:
            said = f"{name} is to come from a drawer and none was given: --drawer FILE"
            yield Caution("drawer", said, False, name)
        for piece in (piece for one in solved.combined.get(name, [])[:1] for piece in one.pieces):
            if piece.overloaded:
                takes, may = (with_unit(w, "W", 3) for w in (piece.watts, piece.rating_watts))
                said = f"{name}: {in_ohms(piece.ohms)} of it takes {takes}, rated {may}"
                yield Caution("piece-rating", said, True, name)
        if part.track_ohms and part.setting_percent is None and part.fit_for is None:
            said = f"{name} has no setting: what depends on it is unknown"
            yield Caution("setting", said, False, name)
