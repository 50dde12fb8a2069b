"""The list of moves from one wiring to another, in the order of work."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import replace

from rewire.bench.cautions import cautions_of
from rewire.bench.moves.fitting import fit_steps, set_steps
from rewire.bench.moves.lifting import lift_steps, take_out_steps
from rewire.bench.moves.links import Link, doubts
from rewire.bench.moves.model import Difference, Moves, Stay, Step
from rewire.bench.moves.powering import live_lugs, power_steps, still_off_steps
from rewire.bench.moves.safety import (
    capital,
    places_of_parts,
    record_steps,
    safe_steps,
)
from rewire.bench.moves.tasks import phases_of
from rewire.bench.moves.work import Work, work_between
from rewire.circuit import LimitReached
from rewire.compare import compare
from rewire.records.spec import Change, Spec

"""The wiring that work begins from, where a spec has one of this name."""


def moves_of(spec: Spec, source: str, target: str) -> Moves:
    """The shortest list of work that makes one wiring of the other.

    Args:
        spec: the checked model.
        source: name of the wiring that is there.
        target: name of the wiring that is wanted.

    Raises:
        KeyError: a name that is no wiring of the spec.
        LimitReached: thousands of wires that all hang on one place.
    """
    work = work_between(spec, spec.wirings[source], spec.wirings[target])
    steps = _numbered(_steps(work))
    return Moves(
        source=source, target=target, stays=tuple(_stays(work)), parts_stay=_parts_stay(work),
        nets_stay=work.nets.stay, steps=steps,
        differences=tuple(map(_difference, work.target.changes)) if steps else (),
        cautions=cautions_of(spec) if steps else (),
        live=tuple(live_lugs(work, steps)),
        tags=dict(work.wires.numbers),
    )  # fmt: skip


def with_verdict(spec: Spec, moves: Moves) -> Moves:
    """The list with the verdict on the wiring that it builds; a limit is told with the cautions."""
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


def _steps(work: Work) -> list[Step]:
    lifts, outs, fits = lift_steps(work), take_out_steps(work), fit_steps(work)
    phases = phases_of(work.spec.after, work.target)
    sets = list(set_steps(work, phases["set"]))
    if not lifts + outs + fits + sets:
        return []
    touched = [step.place for step in lifts if step.place] + places_of_parts(work)
    lifted = {step.wire for step in lifts}
    wires = [wire for wire in work.source.wires if wire.id in lifted]
    return [
        *safe_steps(work.spec),
        *(record_steps(work, touched, wires) if touched else ()),
        *lifts,
        *outs,
        *_found(work),
        *fits,
        *still_off_steps(work, phases["dead"]),
        *sets,
        *power_steps(work, phases["power"]),
    ]


def _numbered(steps: Iterable[Step]) -> tuple[Step, ...]:
    return tuple(replace(step, number=n) for n, step in enumerate(steps, 1))


def _stays(work: Work) -> Iterator[Stay]:
    order = {wire.id: number for number, wire in enumerate(work.source.wires)}
    pairs = sorted(work.links.pairs, key=lambda pair: order.get(pair.old.id, len(order)))
    for pair in pairs:
        if all(work.turn.is_kept(*end) for end in pair.ends):
            note = "; ".join(doubts(pair.old, pair.new)) or None
            yield _stay(work, pair.old, pair.new, note)
    for link in work.nets.merged:
        yield _stay(work, link, None, f"{work.target.name} knows it as a net")
    for link in work.nets.seen:
        note = f"{work.source.name} knows a net here: see that one wire goes straight across"
        tag = link.id if link.wire else None
        yield Stay(None, link.id, link.ends, link.colour, note, tag, link.id)


def _stay(work: Work, old: Link, new: Link | None, note: str | None) -> Stay:
    tag, told = (work.wires.on(old.id),) * 2 if old.wire else (None, old.id)
    return Stay(old.id, new.id if new else None, old.ends, old.colour, note, tag, told)


def _parts_stay(work: Work) -> tuple[str, ...]:
    return tuple(name for name in work.source.parts if name not in work.turn.out)


def _found(work: Work) -> Iterator[Step]:
    """What was found beside the wiring, where the work begins from what was found."""
    if work.source.name != default_source(work.spec):
        return
    for item in work.spec.found:
        if item.plan in ("remove", "replace"):
            where = f" ({item.where})" if item.where else ""
            yield Step(
                stage="found", kind="task", place=item.where, destination=item.plan,
                text=f"{capital(item.plan)}: {item.what}{where}", why=item.why,
            )  # fmt: skip


def _difference(change: Change) -> Difference:
    return Difference(change.kind, (*change.parts, *change.anchors), change.why, change.reversible)
