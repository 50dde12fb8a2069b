"""Moves: the work between two wirings of a spec, in the order one does it."""

from __future__ import annotations

import re
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import replace
from math import isclose

import networkx as nx

from rewire.bench import safety
from rewire.bench.lift_and_land import Work, fits, lifts, taken_out
from rewire.bench.ohmmeter import State
from rewire.bench.probes import Pair, Probe, allowed_states, expected, job_of, probes
from rewire.bench.turnover import WireOrLead
from rewire.bench.wire_plan import WirePlan, doubts, wire_plan
from rewire.bench.work_list import (
    OF_OLD,
    Difference,
    LivePoints,
    Moves,
    Stay,
    WorkStep,
    capital,
    step_of,
)
from rewire.circuit import LimitReached
from rewire.circuit.circuit import Circuit, circuit_of
from rewire.circuit.roles import part_of
from rewire.compare import compare
from rewire.records.part import Part
from rewire.records.parts import Pot
from rewire.records.spec import Found, Point, Spec, Task, Wire, Wiring
from rewire.values.solved import lug_volts
from rewire.values.sources import LugVolts
from rewire.values.wiring_values import values_of
from rewire.words.wire import HIGH

_MOST_STATES = 24
_LABELS = re.compile(r"(label|mark|tag)\b.*\bwire", re.IGNORECASE)
"""A line of the spec's own that asks for labels on wires."""
_ALIKE = 0.1
"""Share by which ohms that are measured may differ and be called the same."""
_OTHERS = {
    "X": "X on each wire that comes out",
    "K": "K on one that it knows only as part of a net",
}


def moves_of(spec: Spec, source: str, target: str) -> Moves:
    """The shortest list of work from the wiring that is there to the one that is wanted.

    Raises ``KeyError`` for no wiring's name, ``LimitReached`` for thousands of wires on a net.
    """
    plan = wire_plan(spec, source, target)
    values = _fitted(spec, spec.wirings[target])
    work = Work(plan, values, lug_volts(spec, plan.source), lug_volts(spec, plan.target))
    steps = tuple(replace(step, number=n) for n, step in enumerate(_steps(work), 1))
    differences = (
        Difference(c.kind, (*c.parts, *c.anchors), c.why, c.reversible) for c in plan.target.changes
    )
    return Moves(
        source=source, target=target, stays=tuple(_stays(plan)),
        parts_stay=tuple(name for name in plan.source.parts if name not in plan.turn.out),
        nets_stay=plan.stay, steps=steps, differences=tuple(differences) if steps else (),
        cautions=safety.cautions_of(spec) if steps else (), live=tuple(_live_points(work, steps)),
        tags=dict(plan.numbers),
    )  # fmt: skip


def with_verdict(spec: Spec, moves: Moves) -> Moves:
    """The list with the verdict on the wiring that it builds; a limit goes among the cautions."""
    if moves.target == spec.original.name:
        return moves
    try:
        (result,) = compare(spec, [moves.target])
    except LimitReached as limit:
        said = f"{moves.target} could not be compared with the original: {limit}"
        return replace(moves, cautions=(said, *moves.cautions))
    return replace(moves, broken=result.verdict == "broken")


def default_source(spec: Spec, targets: Sequence[str] = ()) -> str:
    """The wiring that work begins from where none is named: what was found, else the original."""
    found = (w.name for w in spec.others if w.role == "found" and w.name not in targets)
    return next(found, "original")


def default_targets(spec: Spec, source: str) -> tuple[str, ...]:
    """The wirings that work may lead to where none is named: each plan, else the original."""
    plans = [w.name for w in spec.others if w.role == "plan" and w.name != source]
    return tuple(plans) or tuple(n for n in spec.wirings if n != source)


def _fitted(spec: Spec, wiring: Wiring) -> dict[str, str]:
    """Values and settings in words; a part whose value cannot be found is left out."""
    if not any(part.fit_for for part in wiring.parts.values()):
        return {}
    try:
        (result,) = values_of(spec, [wiring.name])
    except LimitReached:
        return {}  # `rewire values` says which limit; the list of moves does not need it
    found = {fit.part: fit.chosen for fit in result.fits if fit.chosen}
    set_at = {p.part: p.setting_percent for p in result.pots if p.setting_percent is not None}
    return found | {name: f"{at:.1f} % of travel from ccw" for name, at in set_at.items()}


def _steps(work: Work) -> list[WorkStep]:
    spec, plan = work.plan.spec, work.plan
    off, out, on = lifts(plan), taken_out(plan), fits(work)
    sets = list(_sets(work))
    if not off + out + on + sets:
        return []
    leaving = [place for name in plan.turn.out for place in plan.turn.old[name].full_terminals]
    touched = [step.place for step in off if step.place] + leaving
    lifted = {step.wire for step in off}
    wires = [wire for wire in plan.source.wires if wire.id in lifted]
    begins = plan.source.name == default_source(spec)
    asked = [item for item in spec.found if begins and item.plan in ("remove", "replace")]
    found = [(item, _found_of(plan, out, item)) for item in asked]
    return [
        *safety.safe_steps(spec),
        *(_records(plan, touched, wires) if touched else ()),
        *off,
        *(_as_found(s, [item for item, part in found if s.part and part == s.part]) for s in out),
        *(_found(item) for item, part in found if part is None),
        *on,
        *safety.still_off_steps(spec, plan.target),
        *sets,
        *safety.power_steps(spec, plan.target),
    ]


def _stays(plan: WirePlan) -> Iterator[Stay]:
    """Those that both wirings know by wire, then those that one of them knows as a net."""
    order = {wire.id: number for number, wire in enumerate(plan.source.wires)}
    both = [(f.old, f.new) for f in plan.links if f.old and f.new and not f.moved]
    for old, new in sorted(both, key=lambda pair: order.get(pair[0].id, len(order))):
        yield _stay(plan, old, new.id, "; ".join(doubts(old, new)) or None)
    for one in (f for f in plan.links if f.fate == "stays"):
        if one.old and not one.new:
            yield _stay(plan, one.old, None, f"{plan.target.name} knows it as a net")
        if one.new and not one.old:
            link, tag = one.new, one.new.id if one.new.wire else None
            note = f"{plan.source.name} knows a net here: see that one wire goes straight across"
            yield Stay(None, link.id, link.ends, link.colour, note, tag, link.id)


def _stay(plan: WirePlan, old: WireOrLead, becomes: str | None, note: str | None) -> Stay:
    tag = plan.numbers[old.id] if old.wire else None
    return Stay(old.id, becomes, old.ends, old.colour, note, tag, tag or old.id)


def _found(item: Found) -> WorkStep:
    """What else was found on the bench, where the work begins from the found wiring."""
    where = f" ({item.where})" if item.where else ""
    step = step_of("found", "task", f"{capital(item.plan or '')}: {item.said}{where}")
    return replace(step, place=item.where, destination=item.plan, why=item.why)


def _found_of(plan: WirePlan, out: Sequence[WorkStep], item: Found) -> str | None:
    """The part whose taking out does what was found asks: the one that is named, else spoken of.

    None if that part stays, or is only taken out where another should take its place.
    """
    done = [step for step in out if step.part and (item.plan == "remove" or step.instead_of)]
    if item.part is not None:
        return next((step.part for step in done if step.part == item.part), None)
    stay = [name for name in plan.turn.old if name not in plan.turn.out]
    if any(re.search(rf"\b{re.escape(name)}\b", item.what) for name in stay):
        return None
    for step in done:
        name = re.escape(step.part or "")
        if re.search(rf"^{name}\b|\bin the place of {name}\b", item.what):
            return step.part
    return None


def _as_found(step: WorkStep, items: Sequence[Found]) -> WorkStep:
    """A part to take out, in the words of what was found of it."""
    if not items:
        return step
    told = "; ".join(item.what for item in items)
    part = step.part or ""
    named = told if told.startswith(part) else f"{part}: {told}"
    rest = (step.short or "").removeprefix(part).lstrip(",; ")
    whys = [step.why, *(item.why for item in items)]
    return replace(
        step, short="; ".join(filter(None, [named, rest])), text=f"{step.text}; found: {told}",
        why="; ".join(filter(None, whys)) or None,
    )  # fmt: skip


def _live_points(work: Work, steps: Sequence[WorkStep]) -> Iterator[LivePoints]:
    """Lugs named by the steps that can be at 50 V or more, by their volts."""
    at: dict[str, LugVolts] = {}
    turn = work.plan.turn
    for step in steps:
        old = (work.hot_before, turn.old_name, turn.old)
        volts, name, parts = (
            old if step.kind in OF_OLD else (work.hot_after, turn.new_name, turn.new)
        )
        for place in _places(step, parts):
            one, known = volts.get(place), at.get(name(place))
            if one and (known is None or abs(one.volts) > abs(known.volts)):
                at[name(place)] = one
    by_words: dict[str, list[str]] = {}
    for lug in sorted(at, key=lambda lug: -abs(at[lug].volts)):
        by_words.setdefault(at[lug].said, []).append(lug)
    yield from (LivePoints(at[lugs[0]], tuple(lugs)) for lugs in by_words.values())


def _places(step: WorkStep, parts: Mapping[str, Part]) -> tuple[str, ...]:
    """Every lug that a step names, its own and those at the far ends, in its wiring."""
    if step.kind in ("take-out", "mount") and step.part:
        return parts[step.part].full_terminals
    goes = None if step.kind == "lift" else step.destination
    return tuple(p for p in (step.place, goes, step.other, *step.partners) if p)


# Put on record


def _records(plan: WirePlan, touched: Sequence[str], wires: Sequence[Wire]) -> Iterator[WorkStep]:
    """Label and photograph what will be lifted, and measure what the work can change."""
    asked = list(safety.label_steps(plan.spec))
    own = next((step for step in asked if wires and _LABELS.match(step.text)), None)
    if wires:
        first = own.text if own else "Label each wire that will be lifted"
        tags = [plan.numbers[wire.id] for wire in wires]
        labels = (" ".join(filter(None, (t, w.colour))) for t, w in zip(tags, wires, strict=True))
        letters = {tag[0] for tag, wire in zip(tags, wires, strict=True) if tag != wire.id}
        said = [word for letter, word in _OTHERS.items() if letter in letters]
        text = f"{first}; at both ends its lug and: {', '.join(labels)}"
        yield replace(
            step_of("record", "label", text, own.caution if own else None),
            short=first, place=own.place if own else None,
            note="; ".join([f"numbers are those of {plan.target.name}", *said]),
        )  # fmt: skip
    yield from (one for one in asked if one is not own)
    yield step_of(
        "record", "photograph",
        "Photograph every deck from behind and from both sides, labels in view",
    )  # fmt: skip
    meters = [part.name for part in plan.turn.old.values() if part.shows_readings]
    care = f"an ohmmeter overdrives {' and '.join(meters)}: highest range that shows the figure"
    note = "; ".join([*([care] if meters else []), *by_hand(plan.turn.old.values())]) or None
    for step in _measurements(plan.spec, plan.source, touched):
        yield replace(step, note=note)
        note = None


def _measurements(spec: Spec, wiring: Wiring, touched: Sequence[str]) -> Iterator[WorkStep]:
    """Points that contacts connect to a touched place, against the chassis.

    Each with the positions to measure in, none where any will do or too many count.
    """
    points = _points_about(circuit_of(spec, wiring), touched)
    base = next((p for p in spec.points.values() if p.chassis), next(iter(points), None))
    for pair in [(p.name, base.name) for p in points if base and p is not base]:
        names = _telling(spec, wiring, pair)
        states = allowed_states(spec, names, _MOST_STATES) if names else []
        at = [" with ".join(f"{name} {at}" for name, at in state.items()) for state in states]
        where = f" in {', '.join(at)}" if at else ""
        yield WorkStep(
            stage="record", kind="measure", place=pair[0], destination=pair[1],
            states=tuple(states),
            expects=tuple(map(expected, _probed(spec, wiring, pair, states or [{}]))),
            text=f"Measure the resistance from {pair[0]} to {pair[1]}{where}, and write it down",
        )  # fmt: skip


def _points_about(circuit: Circuit, touched: Sequence[str]) -> list[Point]:
    """Points that some contact connects with a touched lug; the work can change their nets."""
    points, net = circuit.spec.points.values(), circuit.nets.of
    start, chassis = {net[place] for place in touched}, {net[p.name] for p in points if p.chassis}
    tied: nx.Graph[int] = nx.Graph()
    tied.add_nodes_from(start)
    for link in circuit.links:
        nx.add_path(tied, link.places)
    tied.remove_nodes_from(chassis)
    near = set[int]().union(*(own for own in nx.connected_components(tied) if own & start))
    return [p for p in points if net[p.name] in near | (start & chassis)]


def _telling(spec: Spec, wiring: Wiring, pair: Pair) -> set[str]:
    """Controls whose position can matter: of a switch right there, or of one that changes it."""
    circuit = circuit_of(spec, wiring)
    here = {part_of(place) for place in circuit.nets.members[circuit.nets.of[pair[0]]]}
    near = {switch.control for switch in circuit.switches if switch.name in here}
    found = set(near)
    for name in {switch.control for switch in circuit.switches} - near:
        states = allowed_states(spec, near | {name}, _MOST_STATES)
        firsts: dict[tuple[tuple[str, str], ...], Probe] = {}
        for state, probe in zip(states, _probed(spec, wiring, pair, states), strict=False):
            rest = tuple((control, at) for control, at in state.items() if control != name)
            first = firsts.setdefault(rest, probe)
            same = (first.expect, first.ohms is None) == (probe.expect, probe.ohms is None)
            if not same or not isclose(first.ohms or 0.0, probe.ohms or 0.0, rel_tol=_ALIKE):
                found.add(name)
    return found


def _probed(spec: Spec, wiring: Wiring, pair: Pair, states: Sequence[State]) -> list[Probe]:
    """What must be read between two points, other controls at their first positions."""
    firsts = {name: control.positions[0] for name, control in spec.controls.items()}
    full = [{**firsts, **state} for state in states]
    try:
        job = job_of(spec, wiring, full)
    except LimitReached:
        return []  # the list does not need it; `rewire buzz` says which limit
    return probes(job, [job.touch(state, pair) for state in full])


def by_hand(parts: Iterable[Part]) -> Iterator[str]:
    """How a relay is brought to a position while the set is dead, a sentence for each."""
    for part in parts:
        if part.relay:
            yield (
                f"{part.name} is a relay: press its armature by hand, or feed its coil alone with "
                "both of its leads off the set; never power the set for it"
            )


# Settings


def _sets(work: Work) -> Iterator[WorkStep]:
    """Pots to set anew; a line of the spec's own procedure that sets a pot replaces ours."""
    plan, target = work.plan, work.plan.target
    tasks = safety.phases_of(plan.spec.after, target)["set"]
    told = {safety.pot_set_by(task, target): task for task in tasks}
    for name, part in plan.spec.all_of(Pot, target).items():
        old = None if name in plan.turn.out else plan.source.parts.get(name)
        anew = old is None or old.setting_percent != part.setting_percent
        asks = part.setting_percent is not None or part.fit_for is not None
        if name in target.parts and (name in told or (anew and asks)):
            yield _set(work, part, told.get(name))


def _set(work: Work, part: Pot, told: Task | None) -> WorkStep:
    start = work.values.get(part.name)
    if part.setting_percent is not None:
        start = f"{part.setting_percent:g} % of travel from ccw"
    how = "by ohmmeter, before it is wired"
    if part.fit_for:
        how = _fed(work.plan.target, part.fit_for)
        start = f"start at {start}" if start else None
    to = "; ".join(filter(None, (None if told else how, start)))
    text = capital(told.do) if told else f"Set {part.name} on the bench"
    return WorkStep(
        stage="set", kind="set", part=part.name, place=(told and told.where) or part.where,
        destination=to or None, text=f"{text}: {to}" if to else text,
        caution=told.caution if told else None,
    )  # fmt: skip


def _fed(wiring: Wiring, fit_for: str) -> str:
    """What to feed a reading with on the bench; never 50 V or more."""
    reading = wiring.readings.get(fit_for)
    if reading is None:
        return f"until {fit_for} reads right"
    at = " and ".join(f"{name} at {' or '.join(p)}" for name, p in reading.when.items())
    where = f", {at}" if at else ""
    few = " below 50 V" if reading.quantity == "voltage" and reading.full_scale >= HIGH else ""
    return f"known {reading.quantity}{few}{where}, until {fit_for} reads right"
