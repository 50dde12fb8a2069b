"""Other movements for a plan: each written into the plan, and the plan worked out anew.

Every value that serves one of the meter's readings is left open for it; what is found is written
in, so that each row is a plan that somebody could have written.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from functools import lru_cache
from itertools import combinations

import networkx as nx
import numpy as np

from rewire.circuit.circuit import Case
from rewire.compare.roles import roles_between
from rewire.records.part import Part
from rewire.records.parts import Meter, Pot, Resistor
from rewire.records.spec import Spec, Wiring
from rewire.values.answers import (
    USUAL_ACCEPT,
    OptionPart,
    OptionReading,
    OptionRow,
    PotAnswer,
    Whose,
)
from rewire.values.dc_network import dc_network_of, filled
from rewire.values.drawer import preferred_near
from rewire.values.meter_circuit import Setup, Solved, answer
from rewire.values.pots import pot_answers
from rewire.values.readings import error_percent, nominal_of
from rewire.values.solved import EXACT, OR, solved_of, worked_out
from rewire.words.quantity import Piece, with_unit

_ROUNDS = 12
_SERIES = ("E24", "E96")
_MOVEMENT = ("full_scale_amps", "full_scale_volts", "resistance")
_BESIDE = ("resistance_tolerance_percent", "accuracy_percent", "note")
"""What an option says of its movement besides."""
_MOVED = 1.2
"""Times its value that a resistor is tried at, to see which readings it serves."""
_FELT = 0.02
"""Share of its own change below which a resistor does not serve a reading."""


def option_rows(spec: Spec, wiring: Wiring) -> tuple[OptionRow, ...]:
    """The plan's own movement, the stock one where it is another, and those of ``options``.

    Empty for what is no plan, and where nothing else was asked and the stock meter stays.

    Raises:
        LimitReached: as ``values_of``.
    """
    return _option_rows(Case(spec, wiring))


@lru_cache(maxsize=16)
def _option_rows(case: Case) -> tuple[OptionRow, ...]:
    meters = case.spec.all_of(Meter, case.wiring) if case.wiring.role == "plan" else {}
    return tuple(
        row for meter in meters.values() for row in _rows_of(case.spec, case.wiring, meter)
    )


def _rows_of(spec: Spec, wiring: Wiring, meter: Meter) -> Iterator[OptionRow]:
    originals, solved = spec.all_of(Meter, spec.original), solved_of(spec, wiring)
    names = (meter.name, *roles_between(spec, wiring).forerunners(meter.name))
    stock = next((originals[name] for name in names if name in originals), None)
    same = stock is None or all(getattr(stock, n) == getattr(meter, n) for n in _MOVEMENT)
    asked = [o for o in spec.options if stock and o.replaces in (None, stock.name)]
    readings = [one for one in solved.setups.values() if one.meter_name == meter.name]
    if (same and not asked) or not readings:
        return
    whole = _Plan(solved, meter, *_serving(solved, readings))
    yield _row(solved, whole, meter, "plan")
    if stock is not None and not same:
        here = {name: getattr(meter, name) for name in ("name", "place", "between", "replaces")}
        yield _option(_without_inserted(whole), replace(stock, **here), "stock")
    for option in asked:
        own = {name: getattr(option, name) for name in (*_MOVEMENT, *_BESIDE)}
        yield _option(whole, replace(meter, **own), "option")


@dataclass(frozen=True, slots=True)
class _Plan:
    """The plan worked out, its meter, and which of its resistors a movement may change."""

    solved: Solved
    meter: Meter
    serves: Mapping[str, str]
    """Resistor → the reading that it is for."""
    alike: Mapping[str, str]
    """Resistor → the one that it is a pair with, such as those in both legs of a balanced line."""

    @property
    def resistors(self) -> dict[str, Resistor]:
        return self.solved.spec.all_of(Resistor, self.solved.network.wiring)

    @property
    def pots(self) -> dict[str, Pot]:
        return self.solved.spec.all_of(Pot, self.solved.network.wiring)


def _without_inserted(plan: _Plan) -> _Plan:
    """The plan without the parts that were inserted for its own meter: a wire instead of them."""
    made = dict[str, Part]()
    changes = plan.solved.network.wiring.changes
    for name in (n for change in changes if change.kind == "insert" for n in change.parts):
        if name in plan.resistors:
            made[name] = replace(plan.resistors[name], pieces=Piece(0.0), fit_for=None)
        elif name in plan.pots:
            made[name] = replace(plan.pots[name], ohms=0.0, setting_percent=0.0, fit_for=None)
    serves = {name: reading for name, reading in plan.serves.items() if name not in made}
    return replace(plan, solved=_with_parts(plan.solved, made), serves=serves) if made else plan


def _serving(solved: Solved, readings: Sequence[Setup]) -> tuple[dict[str, str], dict[str, str]]:
    """Resistor → the reading that it is for, as the spec says, else the one it moves alone.

    A maximum matching (Edmonds, Canadian Journal of Mathematics 17, 1965). Beside it the resistors
    that are a pair with another: the same value, the same to every reading.
    """
    own, parts = solved.network.wiring.parts, solved.network.parts
    names = [one.reading.name for one in readings]
    fits = {u.part: u.setup.reading.name for u in solved.unknowns if not u.is_setting}
    fits = {part: name for part, name in fits.items() if name in names}
    stated = [n for n in own if n not in fits and parts[n].fixed_ohms]
    felt = {name: tuple(_felt(solved, one, name) for one in readings) for name in (*fits, *stated)}
    alike: dict[str, str] = {}
    for name, other in combinations(stated, 2):
        same = parts[name].value == parts[other].value and np.allclose(felt[name], felt[other])
        if same and max(felt[name]) >= _FELT and other not in alike:
            alike[other] = name
    graph: nx.Graph[tuple[str, str]] = nx.Graph()
    for number, reading in enumerate(names):
        for name in stated if reading not in fits.values() else ():
            mine = felt[name][number]
            if mine >= _FELT and name not in alike:
                graph.add_edge(("in", reading), ("of", name), weight=mine * mine / sum(felt[name]))
    matched = nx.max_weight_matching(graph, maxcardinality=True)
    pairs = sorted((part, reading) for (_, reading), (_, part) in map(sorted, matched))
    for part, reading in pairs:
        if np.linalg.matrix_rank([felt[n] for n in (*fits, part)], tol=_FELT) > len(fits):
            fits[part] = reading
    return {name: fits[name] for name in own if name in fits}, alike


def _felt(solved: Solved, ready: Setup, part: str) -> float:
    """How much a reading moves with a resistor, over the resistor's own change."""
    numbers = solved.network.of_part(part)
    circuit = ready.circuit
    if circuit.meter is None or not set(numbers) & set(circuit.values):
        return 0.0
    known = filled(solved.values)
    for number in numbers:
        known[number] = known[number] * np.array([1.0, _MOVED])
    before, after = np.broadcast_to(answer(circuit, known).amps, (2,))
    if not before:
        return 0.0
    return float(abs(after / before - 1.0) / (_MOVED - 1.0))


def _option(plan: _Plan, meter: Meter, whose: Whose) -> OptionRow:
    """A movement written into the plan, with the values that it wants."""
    why = _takes_too_much(plan.solved, meter)
    if why:
        return _row(None, plan, meter, whose, why)
    stated = {name: part for name, part in plan.solved.network.parts.items() if name in plan.alike}
    for _ in range(_ROUNDS):
        tried = _with_parts(plan.solved, {**_opened(plan, meter), **stated})
        why = _cannot(tried, meter)
        if why:
            return _row(None, plan, meter, whose, why)
        nearer = dict(_nearer(plan, tried))
        if nearer == stated:
            break
        stated = nearer
    closed = _closed(plan, tried, meter)
    as_tried = closed.keys() == _opened(plan, meter).keys() == {meter.name}
    made = tried if as_tried else _with_parts(plan.solved, closed)
    return _row(made, plan, meter, whose)


def _nearer(plan: _Plan, tried: Solved) -> Iterator[tuple[str, Part]]:
    """Resistors of a pair half way to what the other one came to, which ends where they meet."""
    resistors = tried.spec.all_of(Resistor, tried.network.wiring)
    for name, other in plan.alike.items():
        part = resistors[name]
        if other in tried.exact:
            ohms = 0.5 * (tried.exact[other] + (part.ohms_end_to_end or 0.0))
            yield name, replace(part, pieces=Piece(float(f"{ohms:.9g}")))


def _with_parts(solved: Solved, parts: Mapping[str, Part]) -> Solved:
    """The plan worked out with parts exchanged for others of another value and the same role."""
    spec, wiring = solved.spec, solved.network.wiring
    mine = {name: parts.get(name, part) for name, part in wiring.parts.items()}
    staying = {name: parts.get(name, part) for name, part in spec.parts.items()}
    other = replace(wiring, parts=mine)
    wirings = {**spec.wirings, wiring.name: other}
    exchanged = replace(spec, parts=staying, wirings=wirings)
    return worked_out(dc_network_of(exchanged, other, solved.network.roles))


def _opened(plan: _Plan, meter: Meter) -> dict[str, Part]:
    """The values that serve left open; a pot of such a reading stands where the plan has it."""
    made: dict[str, Part] = {meter.name: meter}
    for name, reading in plan.serves.items():
        part = plan.resistors[name]
        if part.fit_for is None:
            made[name] = replace(part, pieces=None, fit_for=reading, choose=_choice(part))
    for unknown in plan.solved.unknowns:
        if unknown.is_setting and unknown.setup.reading.name in plan.serves.values():
            at = plan.solved.exact.get(unknown.part, 0.5)
            pot = plan.pots[unknown.part]
            made[pot.name] = replace(pot, setting_percent=100.0 * at, fit_for=None)
    return made


def _choice(part: Resistor) -> str:
    """What a value like the plan's is chosen from: preferred ones, if that is one."""
    if not isinstance(part.pieces, Piece) or not part.pieces.ohms:
        return EXACT
    ohms = part.pieces.ohms
    preferred = any(ohms in preferred_near(name, ohms) for name in _SERIES)
    return OR.join(_SERIES) if preferred else EXACT


def _closed(plan: _Plan, tried: Solved, meter: Meter) -> dict[str, Part]:
    """The movement with the values found for it; what the spec leaves open stays open."""
    made: dict[str, Part] = {meter.name: meter}
    leaders = {name: name for name in plan.serves} | dict(plan.alike)
    for name, leader in leaders.items():
        part = plan.resistors[name]
        if part.fit_for is None and leader in tried.exact:
            ohms = tried.chosen.get(leader, tried.exact[leader])
            made[name] = replace(part, pieces=Piece(ohms))
    return made


def _takes_too_much(solved: Solved, meter: Meter) -> str | None:
    """What a shunt cannot mend, said before anything is solved."""
    for name, ready in solved.setups.items():
        reading, needs = ready.reading, meter.movement_amps or 0.0
        if ready.meter_name != meter.name or reading.quantity != "current" or reading.also:
            continue
        if needs > reading.full_scale:
            return f"takes more current than {name} gives ({with_unit(reading.full_scale, 'A')})"
    return None


def _cannot(solved: Solved, meter: Meter) -> str | None:
    """Why a movement cannot work: a value or a setting that there is not."""
    for unknown in solved.unknowns:
        name = unknown.setup.reading.name
        if solved.found[unknown.part].solutions or unknown.setup.meter_name != meter.name:
            continue
        if unknown.is_setting:
            return f"{unknown.part} cannot be set for {name}"
        return f"no value of {unknown.part} makes {name} right"
    return None


def _off(solved: Solved, meter: Meter, pots: Sequence[PotAnswer]) -> str | None:
    """A reading that no value serves and that is wrong by more than it may; a pot out of reach."""
    for answered in pots:
        if answered.reaches is False:
            return f"{answered.part} cannot reach every setting that {answered.reading} may need"
    for ready in solved.setups.values():
        error = error_percent(solved, ready)
        accept = ready.reading.accept_percent or max(meter.accuracy_percent or 0.0, USUAL_ACCEPT)
        if ready.meter_name == meter.name and error is not None and abs(error) > accept:
            return f"{ready.reading.name} would be {error:+.3g} % of full scale off"
    return None


def _row(
    solved: Solved | None, plan: _Plan, meter: Meter, whose: Whose, why: str | None = None
) -> OptionRow:
    """A row; without the plan worked out, a movement for which nothing could be found."""
    row = OptionRow(
        whose=whose,
        meter=meter.name,
        full_scale_amps=meter.full_scale_amps,
        full_scale_volts=meter.full_scale_volts,
        resistance=meter.resistance,
        note=meter.note,
        parts=(),
        readings=(),
        why=why,
    )
    if solved is None:
        return row
    pots = tuple(pot_answers(solved))
    mine = [one for one in solved.setups.values() if one.meter_name == meter.name]
    named = {one.reading.name for one in mine}
    return replace(
        row,
        parts=tuple(_parts(solved, plan, [pot for pot in pots if pot.reading in named])),
        readings=tuple(
            OptionReading(
                one.reading.name, error_percent(solved, one), nominal_of(solved, one).insertion
            )
            for one in mine
        ),
        why=None if whose == "plan" else _cannot(solved, meter) or _off(solved, meter, pots),
    )


def _parts(solved: Solved, plan: _Plan, pots: Sequence[PotAnswer]) -> Iterator[OptionPart]:
    """The pots of its readings, then the resistors that a movement may change."""
    for one in pots:
        track = solved.network.parts[one.part].track_ohms
        yield OptionPart(
            one.part, one.reading, track, one.setting_percent, one.reaches,
            one.lowest_percent, one.highest_percent,
        )  # fmt: skip
    pairs = {name: plan.serves[of] for name, of in plan.alike.items() if of in plan.serves}
    for name, reading in {**plan.serves, **pairs}.items():
        ohms = solved.network.parts[name].ohms_end_to_end
        found = solved.values[solved.network.of_part(name)[0]]
        yield OptionPart(
            name, reading, float(found[0]) if ohms is None and found is not None else ohms
        )
