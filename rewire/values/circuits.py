"""The circuit of a reading: what of a wiring can carry it, in one position of the controls."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace

import numpy as np

from rewire.circuit.dc import Array, Ends, solve
from rewire.circuit.graph import NO_SECTION, BlockTree, Joiner, Link
from rewire.compare.comparison import part_of
from rewire.compare.roles import roles_between
from rewire.records.spec import Meter, Reading, Spec, Wiring
from rewire.values.board import Board, Branch
from rewire.words.quantity import with_unit

State = Mapping[str, int]
"""Control → number of its position."""
NOT_A_SUM = (
    "a diode or capacitor lies in the only way to the meter: calibrate against a known source"
)
NO_PATH = "there is no path between its places"


@dataclass(frozen=True, slots=True)
class Driven:
    """Standing current between two nodes, ampere."""

    ends: Ends
    amps: float


@dataclass(frozen=True, slots=True)
class Circuit:
    """Branches that can carry a reading, its drives and its meter.

    ``meter`` is the index of the meter's branch, None if its current is known
    without a sum: 0 if ``blind`` is false, unknown if it is true; ``why`` says so.
    ``branches`` is empty where the drive finds no way, or needs none.
    """

    count: int
    branches: tuple[Branch, ...]
    ends: Ends
    amps: float | None
    volts: float | None
    source_ohms: float
    also: tuple[Driven, ...]
    meter: int | None
    blind: bool = False
    why: str | None = None
    tied: bool = False
    nodes: tuple[int, ...] = ()
    """For each of its nodes the board's."""
    felt: bool = True
    """Whether its own drive flows through branches; else the standing ones alone do."""

    @property
    def values(self) -> tuple[int, ...]:
        """Numbers of the values its branches take their ohms from."""
        used = (n for b in self.branches for n in (b.value, b.share) if n is not None)
        return tuple(dict.fromkeys(used))


@dataclass(frozen=True, slots=True)
class Answer:
    """What a circuit does, one number per sample.

    ``amps`` through the meter from + to -, ``insertion`` in ohm between the
    places of the drive, ``log_det`` the logarithm of what the meter's current is
    a fraction of: amps × exp(log_det) and exp(log_det), times the resistances
    that vary, are of first degree in each of them.
    """

    amps: Array
    insertion: Array
    log_det: Array


def meter_of(spec: Spec, wiring: Wiring, reading: Reading) -> Meter | None:
    """The meter that is read in a wiring: the original's, or the part in its role."""
    meters = [p for p in spec.parts_of(spec.original).values() if isinstance(p, Meter)]
    name = reading.meter or (meters[0].name if len(meters) == 1 else None)
    if name is None:
        return None
    plays = roles_between(spec, wiring).seat.get(f"{name}.+")
    part = spec.parts_of(wiring).get(part_of(plays)) if plays else None
    return part if isinstance(part, Meter) else None


def place_of(board: Board, place: str) -> int | None:
    """The node of a place named in a reading or rule; None if the wiring has no such place."""
    own = roles_between(board.spec, board.wiring).place(place)
    return board.nets.of.get(own) if own else None


def pairs_of(board: Board, reading: Reading) -> list[Ends] | None:
    """Nodes of the drive and of the standing drives; None if a place is missing here."""
    named = [reading.places, *(drive.places for drive in reading.also)]
    pairs = [(place_of(board, one), place_of(board, two)) for one, two in named]
    known = [(one, two) for one, two in pairs if one is not None and two is not None]
    return known if len(known) == len(pairs) else None


@dataclass(frozen=True, slots=True)
class Reach:
    """Ways over some branches of a board."""

    branches: tuple[Branch, ...]
    ways: BlockTree

    @classmethod
    def over(cls, branches: Iterable[Branch]) -> Reach:
        """Ways over branches; those with both ends on one node link nothing."""
        kept = tuple(b for b in branches if b.ends[0] != b.ends[1])
        links = [Link(number, (), b.ends, 0) for number, b in enumerate(kept)]
        return cls(kept, BlockTree(links))

    def between(self, pairs: Iterable[Ends]) -> list[Branch]:
        """Branches on some way between the two nodes of any pair."""
        numbers = {link.contact for pair in pairs for link in self.ways.between(pair)}
        return [self.branches[number] for number in sorted(numbers)]


def controls_between(board: Board, pairs: Iterable[Ends]) -> set[str]:
    """Controls with a contact on some way between the nodes of any pair."""
    blocked = [Branch(part, (a, b), NO_SECTION) for part, a, b in board.blocked]
    on_ways = Reach.over([*board.branches, *blocked]).between(pairs)
    return {branch.control for branch in on_ways if branch.control is not None}


def circuit_of(board: Board, reading: Reading, meter: str | None, state: State) -> Circuit:
    """The circuit of a reading with the controls in ``state`` (those that can matter)."""
    pairs = pairs_of(board, reading)
    if pairs is None:
        return _without(reading, (0, 0), f"a place of it is missing in {board.wiring.name}")
    closed = [b for b in board.branches if b.control is None or _closed(b, state)]
    reach = Reach.over(closed)
    lost = next(standing_without_way(reading, pairs, reach.ways.linked), None)
    if _tied(board, closed, pairs[0]):
        said, blind = "its two places are joined", reading.quantity == "voltage"
        without = _without(reading, pairs[0], said, blind, tied=True)
    else:
        blind_way = _only_through_diodes(board, closed, pairs, meter, reach.between(pairs))
        if reach.ways.linked(*pairs[0]):
            carrying = reach.between(pairs)
            whole = _circuit(board, reading, meter, pairs, carrying, blind_way)
            return whole if lost is None else replace(whole, blind=True, why=lost)
        said = NOT_A_SUM if blind_way else NO_PATH
        without = _without(
            reading, pairs[0], said, blind=blind_way or reading.quantity == "current"
        )
    if lost is not None:
        return replace(without, blind=True, why=lost)
    if without.blind or not reading.also:
        return without
    return _standing(board, reading, meter, pairs[1:], reach, without)


def standing_without_way(
    reading: Reading, pairs: Sequence[Ends], linked: Callable[[int, int], bool]
) -> Iterator[str]:
    """The standing drives of a reading that find no way from their first place to their second."""
    for drive, pair in zip(reading.also, pairs[1:], strict=True):
        if not linked(*pair):
            amps = with_unit(drive.amps, "A")
            one, other = drive.places
            yield f"the standing current of {amps} from {one} to {other} has no way back"


def _standing(
    board: Board,
    reading: Reading,
    meter: str | None,
    pairs: Sequence[Ends],
    reach: Reach,
    without: Circuit,
) -> Circuit:
    """What the standing drives alone do, where the reading's own needs no branch or finds none."""
    still = _circuit(board, reading, meter, [pairs[0], *pairs], reach.between(pairs), False)
    return replace(
        still,
        amps=0.0,
        volts=None,
        source_ohms=0.0,
        tied=without.tied,
        why=still.why if still.blind else without.why,
        felt=False,
    )


def _closed(branch: Branch, state: State) -> bool:
    at = None if branch.control is None else state.get(branch.control)
    return at is not None and bool(branch.positions >> at & 1)


def _without(
    reading: Reading, ends: Ends, why: str, blind: bool = True, tied: bool = False
) -> Circuit:
    amps = reading.full_scale if reading.quantity == "current" else None
    volts = None if amps is not None else reading.full_scale
    return Circuit(0, (), ends, amps, volts, reading.source_resistance, (), None, blind, why, tied)


def _tied(board: Board, closed: Sequence[Branch], pair: Ends) -> bool:
    joiner = Joiner(board.count)
    for branch in closed:
        if branch.control is not None:
            joiner.join(branch.ends)
    return joiner.root(pair[0]) == joiner.root(pair[1])


def _only_through_diodes(
    board: Board,
    closed: Sequence[Branch],
    pairs: Sequence[Ends],
    meter: str | None,
    carrying: Sequence[Branch],
) -> bool:
    """Whether the meter is reached, but only through what a DC sum takes as open."""
    if meter is None or not board.blocked or any(b.part == meter for b in carrying):
        return False
    blocked = [Branch(part, (a, b), NO_SECTION) for part, a, b in board.blocked]
    wide = Reach.over([*closed, *blocked]).between(pairs)
    return any(branch.part == meter for branch in wide)


def _circuit(
    board: Board,
    reading: Reading,
    meter: str | None,
    pairs: Sequence[Ends],
    carrying: Sequence[Branch],
    blind_way: bool,
) -> Circuit:
    number = {node: i for i, node in enumerate(dict.fromkeys(_nodes(pairs, carrying)))}
    branches = tuple(_renumbered(branch, number) for branch in carrying)
    at = next((i for i, b in enumerate(branches) if b.part == meter), None)
    why = None
    if meter is None:
        why = f"no part of {board.wiring.name} has the role of its meter"
    elif blind_way:
        why = NOT_A_SUM
    elif at is None:
        why = f"{meter} is not in circuit"
    return Circuit(
        count=len(number),
        branches=branches,
        ends=(number[pairs[0][0]], number[pairs[0][1]]),
        amps=reading.full_scale if reading.quantity == "current" else None,
        volts=reading.full_scale if reading.quantity == "voltage" else None,
        source_ohms=reading.source_resistance if reading.quantity == "voltage" else 0.0,
        also=tuple(
            Driven((number[one], number[two]), drive.amps)
            for (one, two), drive in zip(pairs[1:], reading.also, strict=True)
        ),
        meter=at,
        blind=meter is None or blind_way,
        why=why,
        nodes=tuple(number),
    )


def _nodes(pairs: Iterable[Ends], branches: Iterable[Branch]) -> Iterator[int]:
    for ends in (*pairs, *(branch.ends for branch in branches)):
        yield from ends


def _renumbered(branch: Branch, number: Mapping[int, int]) -> Branch:
    one, two = branch.ends
    return replace(branch, ends=(number[one], number[two]))


def answer(circuit: Circuit, values: Sequence[Array]) -> Answer:
    """Meter current and insertion resistance of a circuit with branches.

    Args:
        circuit: what carries the reading.
        values: the board's values, each of shape (samples,) or (1,); ohm, or a
            share from 0 to 1 for the setting of a pot.

    Returns:
        Ampere, ohm, and a logarithm, of shape (samples,) or (1,). NaN where a
        drive has no way back.

    Error: a few units in the last place of the larger of the meter's two terminal
    voltages, over the voltage across it.

    Source: superposition of the node equations' solutions, one per drive; a
    voltage drive V behind R into what a current drive I sees as u, beside standing
    drives that give w across the same places: I = (V - w) / (R + u).
    """
    if circuit.meter is None or np.any(circuit.branches[circuit.meter].ohms(values) > 0.0):
        return _answer(circuit, values)
    return _through_no_resistance(circuit, values)


def _answer(circuit: Circuit, values: Sequence[Array]) -> Answer:
    drives = [circuit.ends, *(drive.ends for drive in circuit.also)]
    ohms = [branch.ohms(values) for branch in circuit.branches]
    ends = [branch.ends for branch in circuit.branches]
    solved = solve(circuit.count, ends, ohms, drives, circuit.ends[1])
    insertion = np.where(solved.lost[0, circuit.ends[0]], np.inf, solved.across(0, circuit.ends))
    own, log_det = _own_current(circuit, solved.log_det, insertion, solved.across)
    if circuit.meter is None:
        return Answer(np.zeros(insertion.shape), insertion, log_det)
    plus, minus = circuit.branches[circuit.meter].ends
    volts = own * solved.across(0, (plus, minus))
    lost = solved.lost[0, plus] | solved.lost[0, minus]
    for number, drive in enumerate(circuit.also, 1):
        volts = volts + drive.amps * solved.across(number, (plus, minus))
        lost = lost | solved.lost[number, list(drive.ends)].any(axis=0)
    # A tolerance of 100 % has a corner in which the meter is of no resistance: infinite, then.
    with np.errstate(divide="ignore", invalid="ignore"):
        amps = np.where(lost, np.nan, volts / ohms[circuit.meter])
    return Answer(amps, insertion, log_det)


def _own_current(
    circuit: Circuit, log_det: Array, insertion: Array, across: Callable[[int, Ends], Array]
) -> tuple[Array, Array]:
    """Current of the drive itself, and the logarithm completed by the source."""
    if circuit.volts is None:
        return np.array([circuit.amps]), log_det
    standing: Array = np.zeros(1)
    for number, drive in enumerate(circuit.also, 1):
        standing = standing + drive.amps * across(number, circuit.ends)
    total = circuit.source_ohms + insertion
    return (circuit.volts - standing) / total, log_det + np.log(total)


def _through_no_resistance(circuit: Circuit, values: Sequence[Array]) -> Answer:
    """A meter of no resistance, from what 1 Ω and 2 Ω in its place give.

    One over the meter's current is of first degree in the meter's resistance
    (Thévenin), and so is the determinant times that resistance: both are exact.
    """
    assert circuit.meter is not None
    number = circuit.branches[circuit.meter].value
    one, two = (_answer(circuit, _with(values, number, ohms)) for ohms in (1.0, 2.0))
    none = one.amps == 0.0
    # At a stop of a pot nothing may be left in series: infinite, then, as beside a source of 0 Ω.
    with np.errstate(divide="ignore", invalid="ignore"):
        whole = np.where(none, 1.0, 2.0 / one.amps - 1.0 / two.amps)
        amps = np.where(none, 0.0, 1.0 / whole)
        log_det = one.log_det + np.log(2.0 - 2.0 * np.exp(two.log_det - one.log_det))
    unread = replace(circuit, meter=None)
    insertion = _answer(unread, _with(values, number, 0.0)).insertion
    return Answer(amps, insertion, log_det)


def _with(values: Sequence[Array], number: int, ohms: float) -> list[Array]:
    changed = list(values)
    changed[number] = np.array([ohms])
    return changed
