"""The first steps: dead, labelled, photographed, measured."""

from __future__ import annotations

import re
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import replace
from itertools import product
from math import isclose, prod

from rewire.bench.cautions import (
    capacitors_of,
    has_mains,
    holds_charge,
    is_big,
    texts_of,
    unknown_points,
)
from rewire.bench.continuity import UNKNOWN, Probe, by_hand, continuity, expected
from rewire.bench.moves.model import Stage, Step
from rewire.bench.moves.near import contact_neighbours, spread_over
from rewire.bench.moves.tasks import Deed, deeds_of
from rewire.bench.moves.work import Work
from rewire.circuit import LimitReached
from rewire.circuit.circuit import circuit_of
from rewire.compare.roles import part_of
from rewire.records.spec import Meter, Point, Spec, Switch, Task, Wire
from rewire.values.assemble import Worked, work_out
from rewire.values.live import most_volts
from rewire.values.lug_volts import is_high

_MOST_STATES = 24
_ALIKE = 0.1
"""Share by which ohms that are measured may differ and be called the same."""
_METERS = (600.0, 1000.0)
"""Volts that test meters are rated for; common practice, no source."""
_ORDER: tuple[Deed, ...] = ("live", "unplug", "wait", "open", "discharge", "prove", "other")
_NO_RESISTOR = re.compile(r"(?!.*(resistor|ohm|bleed|Ω|through))")


def safe_steps(spec: Spec) -> Iterator[Step]:
    """Unplug, wait, open, discharge, prove dead: the spec's own lines, ours where it has none."""
    own: dict[Deed, list[Task]] = {}
    for task in spec.before:
        for deed, piece in deeds_of(task):
            own.setdefault(deed, []).append(piece)
    ours = dict(_ours(spec))
    for deed in _ORDER:
        yield from (_own(spec, deed, task) for task in own.get(deed, ()))
        if deed in ours and (deed == "prove" or deed not in own):
            yield ours[deed]


def label_tasks(spec: Spec) -> Iterator[Step]:
    """Labels and photographs that the spec asks for."""
    for task in spec.before:
        for deed, piece in deeds_of(task):
            if deed == "label":
                yield task_step(piece, "record")


def _own(spec: Spec, deed: Deed, task: Task) -> Step:
    step = task_step(task, "safe")
    if deed != "discharge" or not is_big(spec) or not _NO_RESISTOR.match(task.do):
        return step
    mind = "bleed through a resistor first, then short; never short a charged bank"
    return replace(step, caution="; ".join(text for text in (task.caution, mind) if text))


def _ours(spec: Spec) -> Iterator[tuple[Deed, Step]]:
    yield "unplug", _safety(_cut_off(spec))
    if not holds_charge(spec):
        return
    yield "wait", _safety("Wait five minutes: valves cool down, capacitors run down")
    yield "open", _safety("Open the equipment, and touch nothing in it yet")
    yield "discharge", _discharge(spec)
    yield "prove", _safety(f"Prove dead with {_meter(spec)}, proved on a known source before and "
                           f"after{_list(spec)}")  # fmt: skip


def _cut_off(spec: Spec) -> str:
    battery = re.search(r"\bbatter", texts_of(spec))
    if has_mains(spec):
        return "Pull the mains plug" + (", take the battery off" if battery else "")
    return "Take the battery off" if battery else "Cut off every supply"


def _discharge(spec: Spec) -> Step:
    names = [part.name for part in capacitors_of(spec)]
    held = f" ({', '.join(names)} and those of the supply)" if names else ""
    if is_big(spec):
        return _safety(
            f"Bleed every high-voltage capacitor{held} through a resistor that is rated for the "
            "volts, measure that it is empty, then short it and leave the short on",
            caution="never short a charged bank: it bursts the stick, the capacitor, or you",
        )
    return _safety(
        f"Discharge every capacitor{held} through a resistor, one by one, and measure each",
        caution="stored charge: capacitors hold it for minutes, some for days",
    )


def _meter(spec: Spec) -> str:
    most = max((abs(most_volts(p)) for p in spec.points.values()), default=0.0)
    rated = next((volts for volts in _METERS if volts >= most), None)
    if rated is None:
        return f"a high-voltage probe rated above {most / 1000:g} kV"
    return f"a meter rated {rated:g} V or more"


def task_step(task: Task, stage: Stage) -> Step:
    """A line of the spec's own procedure."""
    where = f" ({task.where})" if task.where else ""
    return Step(
        stage=stage, kind="task", text=f"{capital(task.do)}{where}", place=task.where,
        caution=task.caution,
    )  # fmt: skip


def capital(text: str) -> str:
    """A spec's text as a sentence begins."""
    return text[:1].upper() + text[1:]


def _safety(text: str, caution: str | None = None) -> Step:
    return Step(stage="safe", kind="safety", text=text, caution=caution)


def _list(spec: Spec) -> str:
    """Where to measure: high points with their volts, then those of which nothing is known."""
    points = [p for p in spec.points.values() if not p.chassis]
    high = [f"{p.name} ({most_volts(p):g} V)" for p in points if is_high(p)]
    open_ = unknown_points(spec)
    said = "".join(
        f"{lead}{', '.join(names)}"
        for lead, names in ((": at ", high), ("; volts not given, so here too: ", open_))
        if names
    )
    if not said:
        return ": at every capacitor, and at every lug that you will touch"
    return said.replace("; volts", ": volts", 1) if open_ and not high else said


def record_steps(work: Work, touched: Sequence[str], wires: Sequence[Wire]) -> Iterator[Step]:
    """Label and photograph what will be lifted, and measure between places.

    Args:
        work: the two wirings.
        touched: places of the first wiring where something is lifted or taken out.
        wires: of the first wiring, those that are lifted.
    """
    yield from label_tasks(work.spec)
    if wires:
        yield Step(
            stage="record", kind="label",
            text=f"Label both ends of each wire that will be lifted, with the lug it is on: "
            f"{', '.join(_label(work, wire) for wire in wires)}",
            note=_numbering(work, wires),
        )  # fmt: skip
    yield Step(
        stage="record", kind="photograph",
        text="Photograph every deck and every lug from behind and from both sides, labels in view",
    )  # fmt: skip
    yield from _measurements(work, touched)


def _label(work: Work, wire: Wire) -> str:
    return " ".join(word for word in (work.wires.on(wire.id), wire.colour) if word)


_OTHERS = {
    "X": "X on each wire that comes out",
    "K": "K on one that it knows only as part of a net",
}


def _numbering(work: Work, wires: Sequence[Wire]) -> str | None:
    """Whose numbers the labels bear, and what stands on the others."""
    letters = {number[0]: None for wire in wires if (number := work.wires.on(wire.id)) != wire.id}
    said = [word for letter, word in _OTHERS.items() if letter in letters]
    return "; ".join([f"numbers are those of {work.target.name}", *said])


def _measurements(work: Work, touched: Sequence[str]) -> Iterator[Step]:
    points = _points_about(work, touched)
    base = next((p for p in work.spec.points.values() if p.chassis), next(iter(points), None))
    meters = [p.name for p in work.turn.old.values() if isinstance(p, Meter)]
    care = (
        f"an ohmmeter drives current through {' and '.join(meters)}: use the highest range that "
        "still shows the figure"
    )
    if base is None:
        return
    relays = list(by_hand(work.turn.old.values()))
    minded = "; ".join([*([care] if meters else []), *relays]) or None
    worked = _worked(work)
    others = [point for point in points if point is not base]
    for number, point in enumerate(others):
        pair = point.name, base.name
        states = tuple(_states(work, worked, pair))
        yield Step(
            stage="record", kind="measure", place=point.name, destination=base.name,
            states=states, note=minded if number == 0 else None,
            expects=tuple(_expected(work, worked, pair, states)),
            text=f"Measure the resistance from {point.name} to {base.name}"
            f"{_in_positions(states)}, and write it down",
        )  # fmt: skip


def _expected(
    work: Work, worked: Worked | None, pair: tuple[str, str], states: Sequence[Mapping[str, str]]
) -> Iterator[str]:
    """What the first wiring gives, position by position; nothing where that is too large a sum."""
    yield from map(expected, _probes(work, worked, pair, states or ({},)))


def _probes(
    work: Work, worked: Worked | None, pair: tuple[str, str], states: Sequence[Mapping[str, str]]
) -> list[Probe]:
    firsts = {name: control.positions[0] for name, control in work.spec.controls.items()}
    full = [firsts | dict(state) for state in states]
    return [] if worked is None else continuity(worked.board, worked.values, [pair], full)


def _worked(work: Work) -> Worked | None:
    try:
        return work_out(work.spec, work.source)
    except LimitReached:
        return None  # the list does not hang on it; `rewire buzz` says which limit


def _points_about(work: Work, touched: Sequence[str]) -> list[Point]:
    """Points whose connections the work can change: tied to a touched place in some position."""
    nets = circuit_of(work.spec, work.source).nets
    start = {nets.of[place] for place in touched}
    chassis = {nets.of[p.name] for p in work.spec.points.values() if p.chassis}
    near = spread_over(contact_neighbours(work.spec, work.source), start - chassis, chassis)
    return [p for p in work.spec.points.values() if nets.of[p.name] in near | (start & chassis)]


def _states(
    work: Work, worked: Worked | None, pair: tuple[str, str]
) -> Iterator[Mapping[str, str]]:
    """Positions of the controls that can matter; none if there are too many."""
    nets = circuit_of(work.spec, work.source).nets
    here = {part_of(place) for place in nets.members[nets.of[pair[0]]]}
    switches = [p for p in work.turn.old.values() if isinstance(p, Switch)]
    used = {switch.control for switch in switches if switch.name in here}
    beyond = {switch.control for switch in switches} - used
    used |= {name for name in beyond if _tells(work, worked, pair, used, name)}
    yield from _positions(work.spec, used)


def _tells(
    work: Work, worked: Worked | None, pair: tuple[str, str], used: set[str], name: str
) -> bool:
    """Whether turning a control whose switch is farther off changes what is measured."""
    states = list(_positions(work.spec, used | {name}))
    firsts: dict[tuple[tuple[str, str], ...], Probe] = {}
    for state, probe in zip(states, _probes(work, worked, pair, states), strict=False):
        rest = tuple((control, at) for control, at in state.items() if control != name)
        if _apart(firsts.setdefault(rest, probe), probe):
            return True
    return False


def _apart(one: Probe, other: Probe) -> bool:
    """Whether somebody who reads one for the other is misled."""
    if one.expect != other.expect or (one.ohms is None) != (other.ohms is None):
        return True
    return not isclose(one.ohms or 0.0, other.ohms or 0.0, rel_tol=_ALIKE)


def _positions(spec: Spec, names: set[str]) -> Iterator[Mapping[str, str]]:
    controls = [c for c in spec.controls.values() if c.name in names]
    if not controls or prod(len(c.positions) for c in controls) > _MOST_STATES:
        return
    for positions in product(*(c.positions for c in controls)):
        state = {c.name: at for c, at in zip(controls, positions, strict=True)}
        if not any(never.items() <= state.items() for never in spec.never):
            yield state


def _in_positions(states: Sequence[Mapping[str, str]]) -> str:
    if not states:
        return ""
    said = (state_words(state) for state in states)
    return f" in {', '.join(said)}"


def state_words(state: Mapping[str, str]) -> str:
    """``METER BIAS``, ``SEND RECEIVE with FUNCTION TUNE``."""
    return " with ".join(f"{name} {at}" for name, at in state.items())


def measured(step: Step) -> Iterator[tuple[str, str]]:
    """Of a measurement each position, and what it should be there as far as the spec knows."""
    states = step.states or ({},)
    told: Sequence[str] = [f" ({_should(text)})" for text in step.expects] or [""] * len(states)
    if len(states) > 1 and len(set(step.expects)) == 1:
        told = [*[""] * (len(states) - 1), f" ({_should(step.expects[0])} in each)"]
    yield from zip(map(state_words, states), told, strict=True)


def _should(text: str) -> str:
    return text if text == UNKNOWN else f"should be {text}"


def places_of_parts(work: Work) -> list[str]:
    """Terminals of the parts that come out."""
    parts = (work.turn.old[name] for name in work.turn.out)
    return [part.terminal(lug) for part in parts for lug in part.terminals]
