"""Ends to lift, parts to take out, parts and wires to put in: the steps with the iron in hand."""

from __future__ import annotations

import re
from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass, replace

from rewire.bench.turnover import (
    Group,
    Reach,
    WireOrLead,
    differing,
    far_first,
    near_first,
)
from rewire.bench.wire_plan import WireFate, WirePlan, doubts
from rewire.bench.work_list import Stage, WorkStep, step_of
from rewire.circuit.circuit import Circuit, circuit_of
from rewire.circuit.roles import part_of
from rewire.records.part import Part
from rewire.records.spec import CUT, Wire
from rewire.records.switches import Switch
from rewire.values.lug_volts import LugVolts, insulation_asked
from rewire.words.wording import listing

_INSULATION = re.compile(r", insulation (?:for )?([0-9.]+ k?V)(?: or more)?")


@dataclass(frozen=True, slots=True)
class Work:
    """A plan of the wires, and what else the steps are made from."""

    plan: WirePlan
    values: Mapping[str, str]
    """Part → value or setting in words, for each that the second wiring leaves to be fitted."""
    hot_before: Mapping[str, LugVolts]
    """Place of the first wiring → the volts it can stand at, from 50 V on."""
    hot_after: Mapping[str, LugVolts]


# Off and out


def lifts(plan: WirePlan) -> list[WorkStep]:
    """Every end that comes off its lug, near lugs first."""
    steps = [
        *(_lift(plan, one, one.old, n) for one in plan.links if one.old
          for n in one.moved if one.ends[n][0] != CUT),
        *_freed(plan),
    ]  # fmt: skip
    before = circuit_of(plan.spec, plan.source)
    return sorted(steps, key=lambda step: near_first(before, step.place or ""))


def _lift(plan: WirePlan, one: WireFate, link: WireOrLead, number: int) -> WorkStep:
    turn, to = plan.turn, one.ends[number][1]
    place, other = link.ends[number], link.ends[1 - number]
    goes = f"to {turn.new_name(to)}" if to else "out"
    if to == CUT:
        goes = "insulate it and tie it back"
    comes = "cut off at its other end" if other == CUT else f"from {turn.old_name(other)}"
    named = plan.named(link)
    return WorkStep(
        stage="lift", kind="lift", place=place, destination=to, other=other, wire=link.id,
        tag=plan.numbers[link.id] if link.wire else None,
        becomes=one.new.id if one.new else None, colour=link.colour,
        note=link.wire.note if link.wire else None, part=None if link.wire else part_of(other),
        far=turn.new_name(to) if to and to != CUT else None, lug=turn.old_name(place),
        short=f"{named.removeprefix('wire ')} {goes}",
        text=f"{turn.old_name(place)}: lift {_coloured(link, named)}, {comes}: {goes}",
    )  # fmt: skip


def _coloured(link: WireOrLead, named: str) -> str:
    return f"{link.colour} {named}" if link.colour else named


def _freed(plan: WirePlan) -> Iterator[WorkStep]:
    """Lugs of nets: no wire is known, so whatever joins the lug to the others is lifted."""
    turn = plan.turn
    for place, partners in plan.freed:
        to = _destination(plan, place, partners)
        joint = f"whatever connects it to {_some([turn.old_name(p) for p in partners])}"
        goes = f"to {turn.new_name(to)}" if to else "left off"
        yield WorkStep(
            stage="lift", kind="free", place=place, destination=to, partners=partners,
            far=turn.new_name(to) if to else None, lug=turn.old_name(place),
            short=f"all wires {goes}", text=f"{turn.old_name(place)}: lift {joint}: {goes}",
        )  # fmt: skip


def _destination(plan: WirePlan, place: str, partners: Group) -> str | None:
    """Where what is lifted off a lug of a net goes: the like lug that takes up the same net."""
    turn, net_of = plan.turn, circuit_of(plan.spec, plan.target).nets.of
    if not turn.goes(place):
        return None
    reached = {net_of[p] for p in partners if not turn.goes(p)}
    heirs = [turn.passes[place]] if place in turn.passes else []
    for name in turn.heirs.get(part_of(place), ()):
        heirs += turn.new[name].full_terminals
    taking = [heir for heir in heirs if net_of[heir] in reached]
    lug = place.split(".")[-1]
    return next((h for h in taking if h.split(".")[-1] == lug), next(iter(taking), None))


def _some(places: list[str], most: int = 5) -> str:
    if len(places) <= most:
        return ", ".join(places)
    return f"{', '.join(places[:most])} and {len(places) - most} more"


def taken_out(plan: WirePlan) -> list[WorkStep]:
    """Parts to take out: those on leads first, switches last."""
    parts = sorted((plan.turn.old[n] for n in plan.turn.out), key=lambda p: -p.order_at_bench)
    left = [
        f.old
        for f in plan.links
        if f.old and f.fate == "comes out" and len(f.moved) < 2 - (CUT in f.old.ends)
    ]
    steps = []
    for part in parts:
        mine = [link for link in left if part.name in map(part_of, link.ends)]
        left = [link for link in left if link not in mine]
        steps.append(_take_out(plan, part, mine))
    freed = [plan.turn.old_name(place) for place, _ in plan.freed]
    if freed:
        steps.append(step_of(
            "remove", "task",
            f"Take out what is loose at {_some(freed, 12)}, or use it for a wire below",
        ))  # fmt: skip
    return steps


def _take_out(plan: WirePlan, part: Part, mine: list[WireOrLead]) -> WorkStep:
    same = plan.turn.new.get(part.name)
    with_it = [plan.numbers[link.id] for link in mine if link.wire]
    leaving = f", with {listing(with_it)}" if with_it else ""
    where = f", {part.where}" if part.where else ""
    whys = [c.why for c in plan.target.changes if c.kind == "remove" and part.name in c.parts]
    why = "; ".join(dict.fromkeys(filter(None, whys)))
    if not why and same is not None:
        words = listing(differing(part, same))
        why = f"{part.name} of the plan is another piece: it differs in {words}"
    fitted = {part.name: f"fitted for {part.fit_for}"}
    return WorkStep(
        stage="remove", kind="take-out", part=part.name, place=part.name,
        instead_of=plan.turn.heirs.get(part.name, ()),
        leaves_with=tuple(link.id for link in mine),
        note="; ".join(filter(None, [*part.care, part.note])) or None,
        caution=part.caution, why=why or None,
        short="; ".join([f"{part.name}{leaving}", *part.care]),
        text=f"Take out {part.name} ({part.described_as(fitted.get(part.name))}{where}){leaving}",
    )  # fmt: skip


# In and on


def fits(work: Work) -> list[WorkStep]:
    """Jumpers, then parts, then wires, far lugs before near ones."""
    plan = work.plan
    circuit = circuit_of(plan.spec, plan.target)
    links = [
        *(_new(work, one.new, circuit) for one in plan.links if one.new and one.fate == "new"),
        *(step for one in plan.links if one.old for step in _landings(work, one, one.old)),
    ]
    links.sort(key=lambda step: _reach(circuit, step))
    leads = [step for step in links if step.stage == "parts"]
    return [
        *(step for step in links if step.stage == "jumpers"),
        *_mounted(work, leads),
        *(step for step in links if step.stage == "wires"),
        *_joins(work),
    ]


def _reach(circuit: Circuit, step: WorkStep) -> Reach:
    places = [step.place, step.destination if step.kind == "wire" else None]
    return min(far_first(circuit, place) for place in places if place)


def _stage(link: WireOrLead) -> Stage:
    if link.wire is None:
        return "parts"
    return "jumpers" if link.jumper else "wires"


def _new(work: Work, link: WireOrLead, circuit: Circuit) -> WorkStep:
    turn = work.plan.turn
    if link.wire is None:
        own, place = link.ends
        return WorkStep(
            stage="parts", kind="lead", place=place, destination=own, becomes=link.id,
            part=part_of(own), lug=turn.new_name(place), short=f"lead of {turn.new_name(own)}",
            text=f"Solder {turn.new_name(own)} to {turn.new_name(place)}",
        )  # fmt: skip
    one, other = sorted(link.ends, key=lambda p: far_first(circuit, p))
    noun = f"{'jumper' if link.jumper else 'wire'} {link.id}"
    text = " ".join(filter(None, ("New", link.colour, noun)))
    own_leads = (turn.new[part_of(p)].on_leads for p in link.ends if turn.comes(p))
    if not link.colour and any(own_leads):
        text = f"Own lead, or new wire {link.id},"
    metres = link.wire.length_metres
    length = "" if metres is None else f" {metres * 1000:g} mm"
    asked = [told for told in _asked(link.wire, work.hot_after.get(one)) if told]
    return WorkStep(
        stage=_stage(link), kind="wire", place=one, destination=other, becomes=link.id,
        tag=link.id, colour=link.colour, length_metres=metres,
        note="; ".join([*asked, *filter(None, [link.wire.note])]) or None,
        why=_declared(work.plan, one, other),
        far=turn.new_name(other), lug=turn.new_name(one),
        short=_with_asked(f"{link.id} to {turn.new_name(other)}{length}", asked),
        text=f"{text} from {turn.new_name(one)} to {turn.new_name(other)}{length}",
    )  # fmt: skip


def _with_asked(short: str, asked: Iterable[str]) -> str:
    """``W1 to S4.A, screened``; ``W1 to S4.A ≥600 V`` for ``insulation 600 V or more``."""
    return _INSULATION.sub(r" ≥\1", ", ".join([short, *dict.fromkeys(asked)]))


def _asked(wire: Wire, volts: LugVolts | None) -> Iterator[str]:
    """What the plan asks of a wire beside its ends and colour, and what the volts there ask."""
    yield from filter(None, (wire.gauge, insulation_asked(wire.insulation_volts, volts)))
    yield from ("screened",) if wire.screened else ()
    yield from (f"twisted with {wire.twisted_with}",) if wire.twisted_with else ()


def _landed(plan: WirePlan, link: WireOrLead, named: str, place: str, other: str) -> WorkStep:
    """An end of an old link goes on a lug; its other end is on another."""
    lug, far = plan.turn.new_name(place), plan.turn.new_name(other)
    return WorkStep(
        stage=_stage(link), kind="land", place=place, other=other, wire=link.id,
        tag=plan.numbers[link.id] if link.wire else None, colour=link.colour,
        lug=lug, short=named.removeprefix("wire "),
        text=f"{lug}: land {_coloured(link, named)}, whose other end is on {far}",
    )  # fmt: skip


def _landings(work: Work, one: WireFate, link: WireOrLead) -> Iterator[WorkStep]:
    """The moved ends of an old link; where it makes a join of a net, its other end stays."""
    plan = work.plan
    for number in one.moved:
        (old, new), (_, other) = one.ends[number], one.ends[1 - number]
        if new is None or new == CUT or other is None:
            continue
        if one.new is None:
            step = _landed(plan, link, plan.named(link), new, other)
            yield replace(step, stage="wires", note=_net_note(work, new))
            continue
        stands = _insulation(work, one.new, old, new)
        told = [*_notes(link, one.new), stands]
        doubt = [*doubts(link, one.new), *filter(None, [stands])]
        step = _landed(plan, link, _named_anew(plan, link, one.new), new, other)
        yield replace(
            step, short=_with_asked(step.short or "", doubt),
            stage=_stage(one.new), becomes=one.new.id,
            length_metres=one.new.wire.length_metres if one.new.wire else None,
            note="; ".join(dict.fromkeys(filter(None, told))) or None,
            why=_declared(plan, new, other),
        )  # fmt: skip


def _named_anew(plan: WirePlan, old: WireOrLead, new: WireOrLead) -> str:
    """What its label says, or what the plan calls it where it was a part's lead."""
    if old.wire is None and new.wire is not None:
        return f"{old.id} ({new.id} in {plan.target.name})"
    return plan.named(old, new.jumper)


def _notes(old: WireOrLead, new: WireOrLead) -> Iterator[str | None]:
    metres = new.wire.length_metres if new.wire else None
    if old.wire is not None and old.wire.length_metres is None and metres is not None:
        yield f"needs {metres * 1000:g} mm"
    yield from doubts(old, new)
    yield new.wire.note if new.wire else None


def _insulation(work: Work, link: WireOrLead, old: str | None, new: str) -> str | None:
    """The insulation that an old wire needs where it comes to more volts than it was at."""
    was, volts = work.hot_before.get(old or ""), work.hot_after.get(new)
    given = link.wire.insulation_volts if link.wire else None
    more = volts and (was is None or abs(volts.volts) > 1.01 * abs(was.volts))
    beyond = volts and given is not None and abs(volts.volts) > given
    return insulation_asked(given, volts) if more or beyond else None


def _declared(plan: WirePlan, one: str, other: str) -> str | None:
    """Why the second wiring says that these two places are to be joined."""
    whys = [
        change.why
        for change in plan.target.changes
        if change.why and len(change.anchors) == 2 and change.kind in ("join", "bridge", "stray")
        and {plan.turn.passes.get(a, a) for a in change.anchors} == {one, other}
    ]  # fmt: skip
    return "; ".join(dict.fromkeys(whys)) or None


def _mounted(work: Work, leads: list[WorkStep]) -> Iterator[WorkStep]:
    """Parts that go in, each with its leads; then leads of parts that are there, and shifts."""
    plan = work.plan
    parts = sorted((plan.turn.new[n] for n in plan.turn.into), key=lambda p: p.order_at_bench)
    for part in parts:
        yield _mount(work, part)
        yield from (step for step in leads if step.part == part.name)
    yield from (step for step in leads if step.part not in plan.turn.into)
    for name in (n for n in plan.source.parts if n not in plan.turn.out):
        old, new = plan.source.parts[name].where, plan.target.parts[name].where
        if old and new and old != new:
            yield WorkStep(
                stage="parts", kind="shift", part=name, place=old, destination=new,
                text=f"Move {name} from {old} to {new}",
            )  # fmt: skip


def _mount(work: Work, part: Part) -> WorkStep:
    plan = work.plan
    before = tuple(old for old, heirs in plan.turn.heirs.items() if part.name in heirs)
    place = f" in the place of {' and '.join(before)}" if before and before != (part.name,) else ""
    where = f", {part.where}" if part.where else ""
    new = "new " if part.name in plan.turn.out else ""
    named_in = [c for c in plan.target.changes if part.name in c.parts and c.why]
    described = part.described_as(work.values.get(part.name))
    instead = f" for {' and '.join(before)}" if place else ""
    stop = _stop(plan, part.name)
    brief = f"{new}{part.name} {described.split(',')[0].removeprefix('resistor ')}{instead}"
    return WorkStep(
        stage="parts", kind="mount", part=part.name, place=part.where, instead_of=before,
        note="; ".join(filter(None, [stop, part.note])) or None,
        why=named_in[0].why if named_in else None,
        reversible=all(c.reversible for c in named_in),
        short="; ".join(filter(None, [brief, stop])),
        text=f"Mount {new}{part.name} ({described}{where}){place}",
    )  # fmt: skip


def _stop(plan: WirePlan, name: str) -> str | None:
    """A rotary switch with more throws than the control has positions needs its stop set."""
    switch = plan.spec.all_of(Switch, plan.target).get(name)
    if switch is None or switch.throws is None or switch.style not in (None, "rotary"):
        return None
    count = len(plan.spec.controls[switch.control].positions)
    return f"set its stop to {count} positions" if switch.throws > max(count, 2) else None


def _joins(work: Work) -> Iterator[WorkStep]:
    """Nets of the second wiring, earth last: it names no wire, so the list cannot either."""
    name, points = work.plan.turn.new_name, work.plan.spec.points
    earthed = {point.name for point in points.values() if point.chassis}
    for part, base in sorted(work.plan.joins, key=lambda join: join[1][0] in earthed):
        tail = f" (with it {', '.join(map(name, part[1:]))})" if part[1:] else ""
        goes, volts = f"wire to {', '.join(map(name, base))}", work.hot_after.get(base[0])
        asked = [volts.insulation] if volts else []
        yield WorkStep(
            stage="wires", kind="join", place=part[0], destination=base[0], partners=base,
            note=_net_note(work, base[0]), far=", ".join(map(name, base)), lug=name(part[0]),
            short=_with_asked(f"{goes.removeprefix('wire ')}{tail}", asked),
            text=f"{name(part[0])}{tail}: {goes}",
        )  # fmt: skip


def _net_note(work: Work, place: str) -> str | None:
    names = [net.name for net in work.plan.target.nets if net.name and place in net.members]
    volts = work.hot_after.get(place)
    said = [volts.insulation if volts else "", f"net {', '.join(names)}" if names else ""]
    return "; ".join(filter(None, said)) or None
