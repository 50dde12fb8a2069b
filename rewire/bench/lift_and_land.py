"""Ends to lift, parts to take out, parts and wires to put in: the steps with the iron in hand."""

from __future__ import annotations

import re
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass

from rewire.bench.turnover import Reach, WireOrLead, differing, far_first, lug_of, near_first
from rewire.bench.wire_plan import WireFate, WirePlan, doubts
from rewire.bench.work_list import Stage, WorkStep, step_of
from rewire.circuit.circuit import Circuit, circuit_of
from rewire.circuit.roles import part_of
from rewire.records.part import Part
from rewire.records.spec import CUT, Wire
from rewire.records.switches import Switch
from rewire.values.sources import LugVolts, insulation_asked
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


def _said(*parts: str | None) -> str | None:
    """What there is to say, each once; None for nothing."""
    return "; ".join(dict.fromkeys(filter(None, parts))) or None


# Off and out


def lifts(plan: WirePlan) -> list[WorkStep]:
    """Every end that comes off its lug, near lugs first."""
    lifted = ((one, one.old, n) for one in plan.links if one.old for n in one.moved)
    steps = [_lift(plan, one, old, n) for one, old, n in lifted if old.ends[n] != CUT]
    before = circuit_of(plan.spec, plan.source)
    steps += _freed(plan)
    return sorted(steps, key=lambda step: near_first(before, step.place or ""))


def _lift(plan: WirePlan, one: WireFate, link: WireOrLead, number: int) -> WorkStep:
    turn, to = plan.turn, one.ends[number][1]
    place, other = link.ends[number], link.ends[1 - number]
    goes = f"to {turn.new_name(to)}" if to else "out"
    goes = "insulate it and tie it back" if to == CUT else goes
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
    """Lugs of nets: no wire is known, so whatever joins the lug to the others is lifted.

    It goes to the like lug, of those that take over, that takes up the same net.
    """
    turn, net_of = plan.turn, circuit_of(plan.spec, plan.target).nets.of
    for place, partners in plan.freed:
        reached = {net_of[p] for p in partners if not turn.goes(p)}
        lugs = [lug for heir in turn.heirs.get(part_of(place), ())
                for lug in turn.new[heir].full_terminals]  # fmt: skip
        heirs = [*([turn.passes[place]] if place in turn.passes else []), *lugs]
        taking = [heir for heir in heirs if turn.goes(place) and net_of[heir] in reached]
        to = min(taking, key=lambda heir: lug_of(heir) != lug_of(place), default=None)
        joint = f"whatever connects it to {_some([turn.old_name(p) for p in partners])}"
        goes = f"to {turn.new_name(to)}" if to else "left off"
        yield WorkStep(
            stage="lift", kind="free", place=place, destination=to, partners=partners,
            far=turn.new_name(to) if to else None, lug=turn.old_name(place),
            short=f"all wires {goes}", text=f"{turn.old_name(place)}: lift {joint}: {goes}",
        )  # fmt: skip


def _some(places: Sequence[str], most: int = 5) -> str:
    more = f" and {len(places) - most} more" if len(places) > most else ""
    return f"{', '.join(places[:most])}{more}"


def taken_out(plan: WirePlan) -> list[WorkStep]:
    """Parts to take out, those on leads first, switches last; each with the wires that stay on."""
    gone = [f for f in plan.links if f.old and f.fate == "comes out"]
    left = [f.old for f in gone if f.old and len(f.moved) < 2 - (CUT in f.old.ends)]
    steps = []
    for part in sorted((plan.turn.old[n] for n in plan.turn.out), key=lambda p: -p.order_at_bench):
        mine = [link for link in left if part.name in map(part_of, link.ends)]
        left = [link for link in left if link not in mine]
        steps.append(_take_out(plan, part, mine))
    if plan.freed:
        freed = _some([plan.turn.old_name(place) for place, _ in plan.freed], 12)
        text = f"Take out what is loose at {freed}, or use it for a wire below"
        steps.append(step_of("remove", "task", text))
    return steps


def _take_out(plan: WirePlan, part: Part, mine: Sequence[WireOrLead]) -> WorkStep:
    same = plan.turn.new.get(part.name)
    with_it = [plan.numbers[link.id] for link in mine if link.wire]
    leaving = f", with {listing(with_it)}" if with_it else ""
    where = f", {part.where}" if part.where else ""
    changes = (c for c in plan.target.changes if c.kind == "remove" and part.name in c.parts)
    why = _said(*(change.why for change in changes))
    if not why and same is not None:
        words = listing(differing(part, same))
        why = f"{part.name} of the plan is another piece: it differs in {words}"
    fitted = f"fitted for {part.fit_for}"
    return WorkStep(
        stage="remove", kind="take-out", part=part.name, place=part.name,
        instead_of=plan.turn.heirs.get(part.name, ()),
        leaves_with=tuple(link.id for link in mine), note=_said(*part.care, part.note),
        caution=part.caution, why=why, short="; ".join([f"{part.name}{leaving}", *part.care]),
        text=f"Take out {part.name} ({part.described_as(fitted)}{where}){leaving}",
    )  # fmt: skip


# In and on


def fits(work: Work) -> list[WorkStep]:
    """Jumpers, then parts, then wires, far lugs before near ones."""
    plan = work.plan
    circuit = circuit_of(plan.spec, plan.target)
    links = [
        *(_new(work, one.new, circuit) for one in plan.links if one.new and one.fate == "new"),
        *(_landing(work, one, one.old, n) for one in plan.links if one.old for n in one.moved
          if one.ends[n][1] not in (None, CUT) and one.ends[1 - n][1] is not None),
    ]  # fmt: skip

    def reach(step: WorkStep) -> Reach:
        places = [step.place, step.destination if step.kind == "wire" else None]
        return min(far_first(circuit, place) for place in places if place)

    links.sort(key=reach)
    leads = [step for step in links if step.stage == "parts"]
    return [
        *(step for step in links if step.stage == "jumpers"),
        *_mounted(work, leads),
        *(step for step in links if step.stage == "wires"),
        *_joins(work),
    ]


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
    one, other = sorted(link.ends, key=lambda place: far_first(circuit, place))
    noun = f"{'jumper' if link.jumper else 'wire'} {link.id}"
    text = " ".join(filter(None, ("New", link.colour, noun)))
    own_leads = (turn.new[part_of(p)].on_leads for p in link.ends if turn.comes(p))
    if not link.colour and any(own_leads):
        text = f"Own lead, or new wire {link.id},"
    metres = link.wire.length_metres
    goes = f"to {turn.new_name(other)}" + ("" if metres is None else f" {metres * 1000:g} mm")
    asked = list(_asked(link.wire, work.hot_after.get(one)))
    return WorkStep(
        stage=_stage(link), kind="wire", place=one, destination=other, becomes=link.id,
        tag=link.id, colour=link.colour, length_metres=metres,
        note="; ".join(filter(None, [*asked, link.wire.note])) or None,
        why=_declared(work.plan, one, other), far=turn.new_name(other), lug=turn.new_name(one),
        short=_with_asked(f"{link.id} {goes}", asked),
        text=f"{text} from {turn.new_name(one)} {goes}",
    )  # fmt: skip


def _with_asked(short: str, asked: Iterable[str]) -> str:
    """``W1 to S4.A, screened``; ``W1 to S4.A ≥600 V`` for ``insulation 600 V or more``."""
    return _INSULATION.sub(r" ≥\1", ", ".join([short, *dict.fromkeys(asked)]))


def _asked(wire: Wire, volts: LugVolts | None) -> Iterator[str]:
    """What the plan asks of a wire beside its ends and colour, and what the volts there ask."""
    yield from filter(None, (wire.gauge, insulation_asked(wire.insulation_volts, volts)))
    yield from ("screened",) if wire.screened else ()
    yield from (f"twisted with {wire.twisted_with}",) if wire.twisted_with else ()


def _landing(work: Work, one: WireFate, old: WireOrLead, number: int) -> WorkStep:
    """A moved end of an old link on its lug; where it joins a net, its other end stays."""
    plan, new = work.plan, one.new
    was, place, other = (
        one.ends[number][0],
        one.ends[number][1] or "",
        one.ends[1 - number][1] or "",
    )
    named = plan.named(old, new.jumper if new else None)
    if old.wire is None and new and new.wire:
        named = f"{old.id} ({new.id} in {plan.target.name})"
    told: list[str | None] = [_net_note(work, place)]
    asked: list[str] = []
    metres = new.wire.length_metres if new and new.wire else None
    if new:
        stands = _insulation(work, new, was, place)
        unknown = old.wire is not None and old.wire.length_metres is None and metres is not None
        needs = f"needs {1000 * (metres or 0.0):g} mm" if unknown else None
        asked = [*doubts(old, new), *filter(None, [stands])]
        told = [needs, *doubts(old, new), new.wire.note if new.wire else None, stands]
    lug, far = plan.turn.new_name(place), plan.turn.new_name(other)
    return WorkStep(
        stage=_stage(new) if new else "wires", kind="land", place=place, other=other, wire=old.id,
        tag=plan.numbers[old.id] if old.wire else None, colour=old.colour, lug=lug,
        becomes=new.id if new else None, length_metres=metres, note=_said(*told),
        why=_declared(plan, place, other) if new else None,
        short=_with_asked(named.removeprefix("wire "), asked),
        text=f"{lug}: land {_coloured(old, named)}, whose other end is on {far}",
    )  # fmt: skip


def _insulation(work: Work, link: WireOrLead, old: str | None, new: str) -> str | None:
    """The insulation that an old wire needs where it comes to more volts than it was at."""
    was, volts = work.hot_before.get(old or ""), work.hot_after.get(new)
    given = link.wire.insulation_volts if link.wire else None
    more = volts and (was is None or abs(volts.volts) > 1.01 * abs(was.volts))
    beyond = volts and given is not None and abs(volts.volts) > given
    return insulation_asked(given, volts) if more or beyond else None


def _declared(plan: WirePlan, one: str, other: str) -> str | None:
    """Why the second wiring says that these two places are to be connected."""
    return _said(*(
        change.why
        for change in plan.target.changes
        if len(change.anchors) == 2 and change.kind in ("join", "bridge", "stray")
        and {plan.turn.passes.get(a, a) for a in change.anchors} == {one, other}
    ))  # fmt: skip


def _mounted(work: Work, leads: Sequence[WorkStep]) -> Iterator[WorkStep]:
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
    """A part in; a rotary switch with more throws than positions needs its stop set."""
    plan = work.plan
    before = tuple(old for old, heirs in plan.turn.heirs.items() if part.name in heirs)
    instead = " and ".join(before) if before != (part.name,) else ""
    where = f", {part.where}" if part.where else ""
    new = "new " if part.name in plan.turn.out else ""
    named_in = [c for c in plan.target.changes if part.name in c.parts and c.why]
    described = part.described_as(work.values.get(part.name))
    stop = None
    switch = plan.spec.all_of(Switch, plan.target).get(part.name)
    if switch and switch.throws and switch.style in (None, "rotary"):
        count = len(plan.spec.controls[switch.control].positions)
        stop = f"set its stop to {count} positions" if switch.throws > max(count, 2) else None
    brief = f"{new}{part.name} {described.split(',')[0].removeprefix('resistor ')}"
    return WorkStep(
        stage="parts", kind="mount", part=part.name, place=part.where, instead_of=before,
        note=_said(stop, part.note), why=named_in[0].why if named_in else None,
        reversible=all(c.reversible for c in named_in),
        short=_said(f"{brief} for {instead}" if instead else brief, stop),
        text=f"Mount {new}{part.name} ({described}{where})"
        + (f" in the place of {instead}" if instead else ""),
    )  # fmt: skip


def _joins(work: Work) -> Iterator[WorkStep]:
    """Nets of the second wiring, earth last: it names no wire, so the list cannot either."""
    name, points = work.plan.turn.new_name, work.plan.spec.points
    earthed = {point.name for point in points.values() if point.chassis}
    for part, base in sorted(work.plan.joins, key=lambda join: join[1][0] in earthed):
        tail = f" (with it {', '.join(map(name, part[1:]))})" if part[1:] else ""
        goes, volts = ", ".join(map(name, base)), work.hot_after.get(base[0])
        yield WorkStep(
            stage="wires", kind="join", place=part[0], destination=base[0], partners=base,
            note=_net_note(work, base[0]), far=goes, lug=name(part[0]),
            short=_with_asked(f"to {goes}{tail}", [volts.insulation] if volts else []),
            text=f"{name(part[0])}{tail}: wire to {goes}",
        )  # fmt: skip


def _net_note(work: Work, place: str) -> str | None:
    names = [net.name for net in work.plan.target.nets if net.name and place in net.members]
    volts = work.hot_after.get(place)
    return _said(volts.insulation if volts else None, f"net {', '.join(names)}" if names else None)
