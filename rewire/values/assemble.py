"""Everything about the values of a wiring, put together in the order it depends on each other."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field, replace

import numpy as np

from rewire.circuit.dc import Array
from rewire.circuit.states import LimitReached, States
from rewire.records.spec import Pot, Resistor, Spec, Wiring
from rewire.values.benchtest import bench_test
from rewire.values.bleeders import bleeders
from rewire.values.board import Board, board_of, leaded_board
from rewire.values.chance import SEED, spread
from rewire.values.choosing import (
    DRAWER,
    checked_choice,
    choose_values,
    in_stock,
    series_of,
    single,
)
from rewire.values.circuits import NOT_A_SUM, Circuit, answer
from rewire.values.combos import Stock, what_is_left
from rewire.values.conduction import begins_to_conduct, unfit
from rewire.values.contacts import contact_warnings, telling_contacts
from rewire.values.faults import single_faults
from rewire.values.fitting import Found, Unknown, fit, unknowns_of
from rewire.values.loading import loading_note, loading_percent, loading_told
from rewire.values.mishaps import severity
from rewire.values.model import (
    USUAL_ACCEPT,
    BenchTest,
    Caution,
    Combination,
    Fit,
    Mishap,
    PotAnswer,
    Readout,
    WiringValues,
)
from rewire.values.moments import unread_moments, while_switching
from rewire.values.neglected import neglected
from rewire.values.pots import pot_answer, pot_warnings
from rewire.values.reach import trimmed
from rewire.values.readings import Point, Setup, disagreeing, point, setup, shown_state
from rewire.values.rule_bands import rules_at_rest
from rewire.values.shorts import shorts
from rewire.values.stress import carried_by, part_stresses, risen_meters, stress_warnings
from rewire.values.tolerance import extremes, parts_of, shares, unstated
from rewire.values.warmth import warmed
from rewire.values.wrong_range import wrong_ranges
from rewire.words.quantity import in_ohms, with_unit

FAR_PERCENT = 5.0
"""Percent of its value by which a resistor is off too much for any panel meter; common
practice, no source."""


LOW_OHMS = 10.0
"""Ohm in all below which the copper of the wires counts in a reading."""
_LEADS_PERCENT = 0.5
"""Percent of full scale that a wire inside the meter's loop may make without a word."""
_BAND_PERCENT = 0.5
"""Percent of full scale that an unstated fuse or contact may make without a word."""


@dataclass(frozen=True, slots=True)
class Wishes:
    """What the user asks for beside the spec."""

    stocks: Sequence[Stock] = ()
    overload: float | None = None
    """Times full scale for the second sum of watts."""
    seed: int = SEED
    samples: int = 10_000


@dataclass(slots=True)
class Worked:
    """A wiring with everything found that can be: the board, its readings, its values."""

    board: Board
    setups: dict[str, Setup]
    unknowns: list[Unknown]
    values: list[Array | None]
    found: dict[str, Found]
    exact: dict[str, float] = field(default_factory=dict)
    chosen: dict[str, float] = field(default_factory=dict)
    combined: dict[str, list[Combination]] = field(default_factory=dict)

    @property
    def known(self) -> list[Array]:
        """Values with 1 for what is not known; for circuits that have none of these."""
        return [np.array([1.0]) if v is None else v for v in self.values]

    def complete(self, setup: Setup) -> bool:
        """Whether a reading has a meter in circuit and all its values are known."""
        used = setup.circuit.values
        return setup.circuit.meter is not None and all(self.values[n] is not None for n in used)


def values_of(
    spec: Spec, wirings: Sequence[str] | None = None, wishes: Wishes | None = None
) -> tuple[WiringValues, ...]:
    """What the shunts, multipliers and pots must be, and what follows from it.

    Args:
        spec: the checked model.
        wirings: names, in the order wanted; None for every wiring but the original.
        wishes: a drawer, an overload, a seed.

    Raises:
        LimitReached: a question is larger than the stated limit.
        SpecError: a ``choose`` that is no series of values.
        KeyError: a name that is no wiring of the spec.
    """
    asked = wishes or Wishes()
    names = [w.name for w in spec.others] if wirings is None else list(wirings)
    original = work_out(spec, spec.original, asked)
    return tuple(
        _wiring_values(
            original if name == "original" else work_out(spec, spec.wirings[name], asked),
            original,
            asked,
        )
        for name in names
    )


def work_out(spec: Spec, wiring: Wiring, wishes: Wishes | None = None) -> Worked:
    """Set up the readings of a wiring, fit what is open, choose, and set the pots again.

    Args:
        spec: the checked model.
        wiring: one of its wirings.
        wishes: the drawer to choose from.

    Raises:
        LimitReached, SpecError: as ``values_of``.
    """
    states = States(spec.controls, spec.never)
    board = board_of(spec, wiring)
    ready = {name: setup(board, states, r) for name, r in wiring.readings.items()}
    setups = {name: one for name, one in ready.items() if one is not None}
    unknowns = unknowns_of(board, setups)
    for unknown in unknowns:
        part = board.parts[unknown.part]
        if isinstance(part, Resistor):
            checked_choice(part)
    values = board.nominal()
    worked = Worked(board, setups, unknowns, values, fit(board, unknowns, values))
    worked.exact = {u.part: float(v[0]) for u in unknowns if (v := values[u.number]) is not None}
    _choose(worked, wishes or Wishes())
    return worked


def _choose(worked: Worked, wishes: Wishes) -> None:
    """Take what can be bought or lies in the drawer, and set the pots to it."""
    board, values = worked.board, worked.values
    resistors = [u for u in worked.unknowns if not u.is_setting and u.part in worked.exact]
    if wishes.stocks:
        _take_from_drawer(worked, resistors, wishes.stocks)
    left = [unknown for unknown in resistors if unknown.part not in worked.chosen]
    pots = [u for u in worked.unknowns if u.is_setting and u.part in worked.exact]
    by_pot = [u.setup for u in pots]
    counting = [s for s in worked.setups.values() if s not in by_pot]
    worked.chosen |= choose_values(board, counting, left, values)
    if worked.chosen and pots:
        for unknown in pots:
            values[unknown.number] = None
        worked.found |= fit(board, pots, values)
        _spoilt(worked, pots)


def _spoilt(worked: Worked, pots: Sequence[Unknown]) -> None:
    """Where what was chosen leaves a pot no setting: the nearest, and that this is why."""
    for pot in pots:
        found = worked.found[pot.part]
        if found.solutions or found.nearest is None:
            continue
        near = [name for name in worked.chosen if _meet(worked, name, pot)]
        said = ", ".join(f"{name} = {in_ohms(worked.chosen[name])}" for name in near)
        why = f"with {said} no setting is right, with the exact value there is one; {found.why}"
        worked.values[pot.number] = np.array([found.nearest])
        worked.found[pot.part] = Found((found.nearest,), why)


def _meet(worked: Worked, part: str, pot: Unknown) -> bool:
    """Whether a part's value and a pot are in one circuit, or fitted together."""
    number = next(u.number for u in worked.unknowns if u.part == part)
    circuits = [s.circuit.values for s in worked.setups.values()]
    return any(number in values and pot.number in values for values in circuits)


def _take_from_drawer(worked: Worked, resistors: list[Unknown], stocks: Sequence[Stock]) -> None:
    """The best combination for each resistor in turn; what one takes, the next cannot have."""
    board = worked.board
    stresses = part_stresses(board, list(worked.setups.values()), worked.values, None)
    watts = {stress.part: stress.watts for stress in stresses}
    for unknown in resistors:
        best = in_stock(stocks, worked.exact[unknown.part], watts.get(unknown.part))
        worked.combined[unknown.part] = best
        if not best:
            continue
        stocks = what_is_left(stocks, best[0])
        worked.chosen[unknown.part] = best[0].ohms
        worked.values[unknown.number] = np.array([best[0].ohms])
        if best[0].tolerance_percent is not None:
            value = board.values[unknown.number]
            off = best[0].tolerance_percent / 100.0
            board.values[unknown.number] = replace(value, tolerance=off)


def _wiring_values(worked: Worked, original: Worked, wishes: Wishes) -> WiringValues:
    board, values = worked.board, worked.values
    setups = list(worked.setups.values())
    stresses = part_stresses(board, setups, values, wishes.overload)
    leaded, was = with_leads(worked), with_leads(original)
    readouts = tuple(
        _loaded(board, _readout(leaded(n), was(n), n, wishes)) for n in board.wiring.readings
    )
    pots = tuple(_pots(worked))
    faults, switching, limits = _mishaps(worked)
    switching = _beside_original(switching, original)
    asked = (bench_test(board, s, values, board.spec.bench) for s in setups)
    tests = [test for test in asked if test is not None]
    warnings = (
        *limits,
        *_notices(worked),
        *_bench_notice(board, tests),
        *stress_warnings(board, stresses),
        *risen_meters(board.spec, setups, values),
        *contact_warnings(board, setups, values),
        *telling_contacts(board, readouts),
        *pot_warnings(board, pots, readouts),
        *(said for n in board.wiring.readings for said in _leads_told(leaded(n), n)),
        *_surroundings(worked, original, readouts),
    )
    return WiringValues(
        wiring=board.wiring.name,
        readings=readouts,
        fits=tuple(_fits(worked)),
        pots=pots,
        parts=tuple(stresses),
        bench=tuple(tests),
        switching=tuple(switching),
        faults=tuple(faults),
        warnings=warnings,
        refusals=tuple(_refusals(worked)),
        overload=wishes.overload,
    )


def _loaded(board: Board, one: Readout) -> Readout:
    """The same with what the meter takes away from the set, here and in the original."""
    reading = board.wiring.readings[one.name]
    now, was = (
        loading_percent(board.spec, reading, ohms)
        for ohms in (one.insertion_ohms, one.original_insertion_ohms)
    )
    note = _joined(one.note, loading_note(reading, now, was))
    return replace(one, loading_percent=now, original_loading_percent=was, note=note)


def _surroundings(
    worked: Worked, original: Worked, readouts: Sequence[Readout]
) -> Iterator[Caution]:
    """What the set and the meter do to each other beside the readings themselves."""
    board = worked.board
    yield from shorts(board, original.board)
    for one in readouts:
        reading, both = board.wiring.readings[one.name], (
            one.loading_percent, one.original_loading_percent
        )  # fmt: skip
        told = loading_told(board.spec, reading, *both)
        if told is not None:
            yield told
    yield from bleeders(board, worked.values, original.board, original.values)
    if all(value is not None for value in worked.values):
        yield from neglected(board, list(worked.setups.values()), worked.known)
        yield from wrong_ranges(board, list(worked.setups.values()), worked.known)
        yield from rules_at_rest(board, worked.known)


def with_leads(worked: Worked) -> Callable[[str], Worked]:
    """By the name of a reading: the same with the copper of its wires, where that counts."""
    board = leaded_board(worked.board.spec, worked.board.wiring)
    low = [n for n in worked.setups if (_insertion(worked, n) or 0.0) < LOW_OHMS]
    if board is None or not low:
        return lambda _: worked
    values, known = board.nominal(), dict[int, int]()
    numbers = {(v.part, v.name): n for n, v in enumerate(board.values)}
    for number, value in enumerate(worked.board.values):
        known[number] = here = numbers[value.part, value.name]
        board.values[here], values[here] = value, worked.values[number]
    states = States(board.spec.controls, board.spec.never)
    ready = {n: setup(board, states, worked.setups[n].reading) for n in low}
    setups = {name: one for name, one in ready.items() if one is not None}
    unknowns = [
        replace(u, number=known[u.number], setup=setups[u.setup.reading.name])
        for u in worked.unknowns
        if u.setup.reading.name in setups
    ]
    leaded = Worked(board, setups, unknowns, values, worked.found)
    return lambda name: leaded if name in setups else worked


def _leads_told(worked: Worked, name: str) -> Iterator[Caution]:
    """Wires that carry the main current inside the meter's loop, and what that does."""
    ready = worked.setups.get(name)
    carried = None if ready is None else carried_by(ready, worked.values)
    if ready is None or carried is None or ready.circuit.meter is None or not ready.full_scale:
        return
    own = carried[ready.circuit.meter].at_most
    for branch, flow in zip(ready.circuit.branches, carried, strict=True):
        if branch.part in worked.board.parts or flow.at_most < 2.0 * own:
            continue
        bare = list(worked.known)
        bare[branch.value] = np.zeros(1)
        with_it, without = (answer(ready.circuit, v).amps for v in (worked.known, bare))
        off = 100.0 * float(with_it[0] - without[0]) / ready.full_scale
        if abs(off) >= _LEADS_PERCENT:
            said = (
                f"{name}: {branch.part} ({in_ohms(float(worked.known[branch.value][0]), 2)}) "
                f"carries the main current inside the meter's loop: {off:+.1f} % of full scale; "
                "land the meter's leads on the shunt itself (four-terminal)"
            )
            yield Caution("leads", said, first=True)


def _mishaps(worked: Worked) -> tuple[list[Mishap], list[Mishap], list[Caution]]:
    """Single faults and moments while switching; a limit is told and the rest goes on."""
    board = worked.board
    setups = list(worked.setups.values())
    unknown = [
        v.name for v, known in zip(board.values, worked.values, strict=True) if known is None
    ]
    if unknown:
        said = (
            f"faults and moments while switching are not worked out, unknown: {', '.join(unknown)}"
        )
        return [], [], [Caution("faults-unknown", said)]
    found = {
        u.part: float(v[0]) for u in worked.unknowns if (v := worked.values[u.number]) is not None
    }
    limits: list[Caution] = []
    faults = _unless_limited(lambda: single_faults(board.spec, board.wiring, setups, found), limits)
    return faults, _switching(worked, limits), limits


def _switching(worked: Worked, limits: list[Caution]) -> list[Mishap]:
    """Moments while switching: with each reading, and what rules and points suffer besides."""
    board, values = worked.board, worked.values
    setups = list(worked.setups.values())
    read = _unless_limited(lambda: while_switching(board, setups, values), limits)
    unread = _unless_limited(lambda: unread_moments(board, values, read), limits)
    return sorted([*read, *unread], key=severity)


def _beside_original(switching: list[Mishap], original: Worked) -> list[Mishap]:
    """The moments, with those marked that take uneven poles and that the original has too."""
    if all(moment.in_step or not moment.bad for moment in switching):
        return switching
    before = [moment for moment in _switching(original, []) if moment.bad]
    return [
        replace(one, as_original=True, message=f"{one.message}; so in the original")
        if not one.in_step and any(_the_same(one, other) for other in before)
        else one
        for one in switching
    ]


def _the_same(one: Mishap, before: Mishap) -> bool:
    """Whether a moment does nothing that was not done in the same step and reading before."""
    return (
        (one.what, one.reading) == (before.what, before.reading)
        and set(one.rules) <= set(before.rules)
        and one.overload <= before.overload
    )


def _unless_limited(ask: Callable[[], list[Mishap]], limits: list[Caution]) -> list[Mishap]:
    try:
        return ask()
    except LimitReached as limit:
        limits.append(Caution("limit", str(limit)))
        return []


def _readout(worked: Worked, original: Worked, name: str, wishes: Wishes) -> Readout:
    ready = worked.setups.get(name)
    before = _insertion(original, name)
    if ready is None:
        note = "'never' forbids every state it could be taken in"
        return Readout(name, {}, None, None, None, before, None, note=note)
    board = worked.board
    state = shown_state(board, ready.reading, ready.states[0])
    meter = ready.meter.name if ready.meter else None
    loose = disagreeing(board, ready, worked.values)
    if loose:
        note = f"it depends on {', '.join(loose)}, which 'when' does not fix to one position"
        return Readout(name, state, meter, None, None, before, None, note=note, refused=True)
    found = point(board, ready.circuit, worked.values)
    wrong = unfit(board, ready)
    if wrong is not None:
        return Readout(
            name, state, meter, None, found.insertion, before, None,
            note=wrong.note, dead=wrong.dead,
        )  # fmt: skip
    if found.amps is None or not ready.full_scale:
        note = found.why or "the meter's full-scale current is not known"
        return Readout(
            name, state, meter, None, found.insertion, before, found.amps,
            note=note, dead=_dead(ready.circuit),
        )  # fmt: skip
    bends = None
    if worked.complete(ready):
        bends = begins_to_conduct(board, ready, worked.known)
    if bends is not None:
        return Readout(name, state, meter, None, found.insertion, before, None, note=bends)
    return _full_readout(worked, ready, found, before, state, wishes)


def _dead(circuit: Circuit) -> bool:
    """Whether nothing at all can be read, whatever the values are."""
    return circuit.meter is None and circuit.why != NOT_A_SUM


def _insertion(worked: Worked, name: str) -> float | None:
    ready = worked.setups.get(name)
    if ready is None:
        return None
    return point(worked.board, ready.circuit, worked.values).insertion


def _full_readout(
    worked: Worked,
    ready: Setup,
    found: Point,
    before: float | None,
    state: Mapping[str, str],
    wishes: Wishes,
) -> Readout:
    assert found.amps is not None
    assert ready.full_scale is not None
    assert ready.meter is not None
    circuit, full_scale = ready.circuit, ready.full_scale
    accuracy = ready.meter.accuracy_percent or 0.0
    accept = ready.reading.accept_percent
    told = dict[str, object]()
    if circuit.meter is None:
        same = 100.0 * (found.amps / full_scale - 1.0)
        told |= {"worst_low_percent": same - accuracy, "worst_high_percent": same + accuracy}
    elif worked.complete(ready):
        told = _over_tolerances(worked, ready, wishes)
        if found.amps:
            told["percent_per_10_kelvin"] = warmed(worked.board, circuit, worked.known, 10.0)
    else:
        missing = (n for n in circuit.values if worked.values[n] is None)
        told["unstated"] = parts_of(worked.board, missing)
    return Readout(
        name=ready.reading.name,
        state=state,
        meter=ready.meter.name,
        deflection=found.amps / full_scale,
        insertion_ohms=found.insertion,
        original_insertion_ohms=before,
        meter_amps=found.amps,
        accuracy_percent=ready.meter.accuracy_percent,
        accept_percent=max(accuracy, USUAL_ACCEPT) if accept is None else accept,
        note=_joined(_note(ready, found), *_bands_said(worked, told)),
        **told,  # type: ignore[arg-type]
    )


def _over_tolerances(worked: Worked, ready: Setup, wishes: Wishes) -> dict[str, object]:
    """What the tolerances do to a reading; nothing of the whole where one is not given."""
    assert ready.full_scale is not None
    assert ready.meter is not None
    board, circuit, full_scale = worked.board, ready.circuit, ready.full_scale
    accuracy = ready.meter.accuracy_percent or 0.0
    told = dict[str, object](shares=shares(board, circuit, worked.known, full_scale))
    told["trimmed_percent"] = trimmed(board, worked.unknowns, ready, worked.known, wishes.seed)
    bare = unstated(board, [circuit], worked.known)
    if bare:
        return told | {"unstated": parts_of(board, bare)}
    ends = extremes(board, circuit, worked.known, ready.reading.name)
    low, high = (100.0 * (amps / full_scale - 1.0) for amps in ends)
    told |= {"worst_low_percent": low - accuracy, "worst_high_percent": high + accuracy}
    chance = (accuracy, wishes.samples, wishes.seed)
    return told | {"spread": spread(board, circuit, worked.known, full_scale, *chance)}


def _bands_said(worked: Worked, told: Mapping[str, object]) -> Iterator[str]:
    """Fuses and contacts whose ohms are not stated and that move a reading, with their band."""
    by_name = {value.name: value for value in worked.board.values}
    shares_told = told.get("shares", ())
    assert isinstance(shares_told, tuple)
    for share in shares_told:
        value = by_name.get(share.value)
        if value is not None and value.most is not None and share.size >= _BAND_PERCENT:
            most = in_ohms(value.most, 3)
            yield f"the ohms of {value.name} are not stated: 0 to {most} in the worst case"


def _joined(*notes: str | None) -> str | None:
    return "; ".join(note for note in notes if note) or None


def _note(ready: Setup, found: Point) -> str | None:
    notes = [found.why] if found.why else []
    if found.amps is not None and found.amps < 0.0:
        zero = ready.meter.zero if ready.meter else "left"
        goes = "to the wrong side of its centre" if zero == "centre" else "off the scale"
        notes.append(f"the current goes through the meter backwards: the pointer moves {goes}")
    if ready.reading.ac:
        notes.append("rms values, resistances alone")
    return "; ".join(notes) or None


def _fits(worked: Worked) -> Iterator[Fit]:
    for unknown in worked.unknowns:
        part = worked.board.parts[unknown.part]
        if not isinstance(part, Resistor):
            continue
        reading, exact = unknown.setup.reading.name, worked.exact.get(part.name)
        if exact is None:
            why = worked.found[part.name].why
            yield Fit(part.name, reading, None, None, None, None, part.choose, why=why)
            continue
        ohms = worked.chosen.get(part.name, exact)
        combined = worked.combined.get(part.name, [])
        amps = point(worked.board, unknown.setup.circuit, worked.values).amps
        full_scale = unknown.setup.full_scale
        off = None if amps is None or not full_scale else 100.0 * (amps / full_scale - 1.0)
        yield Fit(
            part=part.name,
            reading=reading,
            exact_ohms=exact,
            chosen_ohms=ohms,
            chosen=combined[0].written if combined else single(ohms),
            error_percent=off,
            choose=series_of(part, ohms) or part.choose,
            others=tuple(combined),
            why=_far(combined[0]) if combined else _choice_note(part, worked.found[part.name]),
        )


def _far(best: Combination) -> str | None:
    """What to say of the best in the drawer if it is not good."""
    if abs(best.error_percent) <= FAR_PERCENT:
        return None
    return f"nothing in the drawer comes near: the best is {abs(best.error_percent):,.0f} % off"


def _choice_note(part: Resistor, found: Found) -> str | None:
    if len(found.solutions) > 1:
        return f"{len(found.solutions)} solutions; the first is taken"
    if part.choose is None:
        return "no 'choose' is given: the exact value is taken"
    return None


def _pots(worked: Worked) -> Iterator[PotAnswer]:
    for unknown in worked.unknowns:
        if isinstance(worked.board.parts[unknown.part], Pot):
            setups = list(worked.setups.values())
            found = worked.found[unknown.part]
            yield pot_answer(worked.board, unknown, found, worked.values, setups)


def _notices(worked: Worked) -> Iterator[Caution]:
    """What was taken for granted: drawers asked for and not given, pots without a setting."""
    for part in worked.board.parts.values():
        from_drawer = isinstance(part, Resistor) and part.choose == DRAWER
        if from_drawer and part.name in worked.exact and part.name not in worked.chosen:
            said = f"{part.name} is to come from a drawer and none was given: --drawer FILE"
            yield Caution("drawer", said, False, part.name)
        taken = worked.combined.get(part.name, [])
        for piece in taken[0].pieces if taken else ():
            if piece.overloaded:
                takes, may = (with_unit(w, "W", 3) for w in (piece.watts, piece.rating_watts))
                said = f"{part.name}: {in_ohms(piece.ohms)} of it takes {takes}, rated {may}"
                yield Caution("piece-rating", said, True, part.name)
        if isinstance(part, Pot) and part.setting_percent is None and part.fit_for is None:
            said = f"{part.name} has no setting: what depends on it is unknown"
            yield Caution("setting", said, False, part.name)


def _bench_notice(board: Board, tests: Sequence[BenchTest]) -> Iterator[Caution]:
    if tests and board.spec.bench.series_resistor_ohms is None:
        said = (
            "no series resistor is given: add 'bench: {series_resistor: …, rating: …}'; it "
            "protects the meter if the supply is turned up too far"
        )
        yield Caution("bench", said)


def _refusals(worked: Worked) -> Iterator[str]:
    for ready in worked.setups.values():
        loose = disagreeing(worked.board, ready, worked.values)
        if loose:
            yield (
                f"{ready.reading.place}: reading {ready.reading.name} depends on "
                f"{', '.join(loose)} in {worked.board.wiring.name}; fix it in 'when'"
            )
