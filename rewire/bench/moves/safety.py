"""The first steps: dead, labelled, photographed, measured."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from itertools import product
from math import prod

from rewire.bench.moves.heat import contact_neighbours, is_high, most_volts, spread_over
from rewire.bench.moves.model import Stage, Step
from rewire.bench.moves.work import Work
from rewire.circuit.nets import nets_of
from rewire.compare.roles import part_of
from rewire.spec.model import Capacitor, Meter, Point, Spec, Switch, Task, Wire

LOCAL_CODES = (
    "Local codes and licensed practice come first: this list is an aid to somebody who is "
    "qualified to do the work, and where it and a code differ, the code holds."
)
_MOST_STATES = 24


def cautions_of(work: Work) -> tuple[str, ...]:
    """What stands above the list, the sentence on local codes last."""
    return (*_of_points(work.spec), *work.spec.cautions, LOCAL_CODES)


def _of_points(spec: Spec) -> Iterator[str]:
    for point in spec.points.values():
        if point.chassis and point.live:
            yield (
                f"{point.name} is live: no mains transformer. Unplugged or not, measure it "
                "against earth before touching it, and test only behind an isolating transformer."
            )


def safe_steps(spec: Spec) -> Iterator[Step]:
    """Unplug, discharge, prove dead; then what the spec's procedure says before the work."""
    yield _safety("Cut off every supply: pull the mains plug, take off battery and aerial")
    yield _safety(
        f"Discharge every capacitor through a resistor, one by one{_held(spec)}",
        caution="stored charge: capacitors hold it for minutes, some for days",
    )
    yield _safety(f"Prove dead with a meter proved on a known source before and after{_list(spec)}")
    yield from (task_step(task, "safe") for task in spec.before)


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


def _held(spec: Spec) -> str:
    parts = [p for w in spec.wirings.values() for p in spec.parts_of(w).values()]
    names = list(dict.fromkeys(p.name for p in parts if isinstance(p, Capacitor)))
    return f" ({', '.join(names)} and those of the supply)" if names else ""


def _list(spec: Spec) -> str:
    """Where to measure: high points with their volts, then those of which nothing is known."""
    points = [p for p in spec.points.values() if not p.chassis]
    high = [f"{p.name} ({most_volts(p):g} V)" for p in points if is_high(p)]
    open_ = [p.name for p in points if p.volts is None and p.rises_to is None]
    said = "".join(
        f"{lead}{', '.join(names)}"
        for lead, names in ((": at ", high), ("; volts not given, so here too: ", open_))
        if names
    )
    return said.replace("; volts", ": volts", 1) if open_ and not high else said


def record_steps(work: Work, touched: Sequence[str], wires: Sequence[Wire]) -> Iterator[Step]:
    """Label and photograph what will be lifted, and measure between places.

    Args:
        work: the two wirings.
        touched: places of the first wiring where something is lifted or taken out.
        wires: of the first wiring, those that are lifted.
    """
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
    return " ".join(word for word in (work.tags.told(wire.id), wire.colour) if word)


def _numbering(work: Work, wires: Sequence[Wire]) -> str | None:
    """Whose numbers the labels bear, where the first wiring has others."""
    if all(work.tags.on(wire.id) == wire.id for wire in wires):
        return None
    target = work.target.name
    return f"numbers are those of {target}; 'old' on each wire that {target} gives no number"


def _measurements(work: Work, touched: Sequence[str]) -> Iterator[Step]:
    points = _points_about(work, touched)
    base = next((p for p in work.spec.points.values() if p.chassis), next(iter(points), None))
    meters = [p.name for p in work.turn.old.values() if isinstance(p, Meter)]
    care = f"an ohmmeter drives current through {' and '.join(meters)}: take its lowest current"
    if base is None:
        return
    for number, point in enumerate(p for p in points if p is not base):
        states = tuple(_states(work, point))
        yield Step(
            stage="record", kind="measure", place=point.name, destination=base.name,
            states=states, note=care if meters and number == 0 else None,
            text=f"Measure the resistance from {point.name} to {base.name}"
            f"{_in_positions(states)}, and write it down",
        )  # fmt: skip


def _points_about(work: Work, touched: Sequence[str]) -> list[Point]:
    """Points whose connections the work can change: tied to a touched place in some position."""
    nets = nets_of(work.spec, work.source)
    start = {nets.of[place] for place in touched}
    chassis = {nets.of[p.name] for p in work.spec.points.values() if p.chassis}
    near = spread_over(contact_neighbours(work.spec, work.source), start - chassis, chassis)
    return [p for p in work.spec.points.values() if nets.of[p.name] in near | (start & chassis)]


def _states(work: Work, point: Point) -> Iterator[Mapping[str, str]]:
    """Positions of the controls whose switches have a lug on a point's net; none if too many."""
    nets = nets_of(work.spec, work.source)
    here = {part_of(place) for place in nets.members[nets.of[point.name]]}
    switches = [p for p in work.turn.old.values() if isinstance(p, Switch) and p.name in here]
    used = {switch.control for switch in switches}
    controls = [c for c in work.spec.controls.values() if c.name in used]
    if not controls or prod(len(c.positions) for c in controls) > _MOST_STATES:
        return
    for positions in product(*(c.positions for c in controls)):
        state = {c.name: at for c, at in zip(controls, positions, strict=True)}
        if not any(never.items() <= state.items() for never in work.spec.never):
            yield state


def _in_positions(states: Sequence[Mapping[str, str]]) -> str:
    if not states:
        return ""
    said = (state_words(state) for state in states)
    return f" in {', '.join(said)}"


def state_words(state: Mapping[str, str]) -> str:
    """``METER BIAS``, ``SEND RECEIVE with FUNCTION TUNE``."""
    return " with ".join(f"{name} {at}" for name, at in state.items())


def places_of_parts(work: Work) -> list[str]:
    """Terminals of the parts that come out."""
    parts = (work.turn.old[name] for name in work.turn.out)
    return [part.terminal(lug) for part in parts for lug in part.terminals]
