"""In and on: jumpers, parts, wires, nets, settings."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from functools import partial

from rewire.bench.moves.adopting import Adopted
from rewire.bench.moves.describe import described
from rewire.bench.moves.links import Link, Pair, doubts
from rewire.bench.moves.model import Stage, Step
from rewire.bench.moves.parts import hangs_on_its_leads
from rewire.bench.moves.reach import Key, far_first
from rewire.bench.moves.tasks import pot_set_by
from rewire.bench.moves.work import Work
from rewire.compare.roles import part_of
from rewire.records.spec import CUT, Part, Pot, Spec, Switch, Task, Wire
from rewire.values.lug_volts import HIGH, LugVolts, insulation_asked


def fit_steps(work: Work) -> list[Step]:
    """Jumpers, then parts, then wires, far lugs before near ones."""
    links = [
        *(_new(work, link) for link in work.links.into),
        *(step for pair in work.links.pairs for step in _landings(work, pair)),
        *(_adopted(work, one) for one in work.adopted),
    ]
    links.sort(key=partial(_by_reach, work))
    return [
        *(step for step in links if step.stage == "jumpers"),
        *_parts(work, [step for step in links if step.stage == "parts"]),
        *(step for step in links if step.stage == "wires"),
        *_joins(work),
    ]


def _by_reach(work: Work, step: Step) -> Key:
    places = [p for p in (step.place, step.destination if step.kind == "wire" else None) if p]
    return min(far_first(work.turn.new, place) for place in places)


def _stage(link: Link) -> Stage:
    if link.wire is None:
        return "parts"
    return "jumpers" if link.jumper else "wires"


def _new(work: Work, link: Link) -> Step:
    turn = work.turn
    one, other = sorted(link.ends, key=lambda p: far_first(turn.new, p))
    if link.wire is None:
        own, other = link.ends
        return Step(
            stage="parts", kind="lead", place=other, destination=own, becomes=link.id,
            part=part_of(own),
            lug=turn.new_name(other), words=f"the lead of {turn.new_name(own)}",
            text=f"Solder {turn.new_name(own)} to {turn.new_name(other)}",
        )  # fmt: skip
    return Step(
        stage=_stage(link), kind="wire", place=one, destination=other, becomes=link.id,
        tag=link.id,
        colour=link.colour, length_metres=link.wire.length_metres,
        note=_asked(link.wire, work.hot_after.get(one)), why=_declared(work, one, other),
        lug=turn.new_name(one),
        words=f"to {turn.new_name(other)}: {_short_words(work, link)}{_length(link.wire)}",
        text=f"{_new_words(work, link)} from {turn.new_name(one)} to {turn.new_name(other)}"
        f"{_length(link.wire)}",
    )  # fmt: skip


def _adopted(work: Work, one: Adopted) -> Step:
    """A wire that makes a join of a net: its other end stays."""
    turn = work.turn
    other = one.link.ends[1 - one.number]
    named = work.wires.named(one.link)
    what = " ".join(word for word in (one.link.colour, named) if word)
    return Step(
        stage="wires", kind="land", place=one.to, other=other, wire=one.link.id,
        tag=work.wires.on(one.link.id),
        colour=one.link.colour, note=_net_note(work, one.to),
        lug=turn.new_name(one.to), words=f"{named}, other end on {other}",
        text=f"{turn.new_name(one.to)}: land {what}, whose other end is on {other}",
    )  # fmt: skip


def _needs(pair: Pair) -> Iterator[str]:
    """The length the plan asks for, where that of the old wire is not known."""
    asked = pair.new.wire.length_metres if pair.new.wire else None
    if asked is not None and pair.old.wire and pair.old.wire.length_metres is None:
        yield f"needs {asked * 1000:g} mm"


def _short_words(work: Work, link: Link) -> str:
    if _may_be_own_lead(work, link):
        return f"own lead, or new wire {link.id}"
    return f"new {'jumper' if link.jumper else 'wire'} {link.id}"


def _may_be_own_lead(work: Work, link: Link) -> bool:
    parts = [work.turn.new.get(part_of(p)) for p in link.ends if work.turn.comes(p)]
    return not link.colour and any(part and hangs_on_its_leads(part) for part in parts)


def _length(wire: Wire) -> str:
    return "" if wire.length_metres is None else f", {wire.length_metres * 1000:g} mm"


def _landing_name(work: Work, pair: Pair) -> str:
    """What its label says, and how the plan calls it where it has none: it was a part's lead."""
    if pair.old.wire is None and pair.new.wire is not None:
        return f"{pair.old.id} ({pair.new.id} in {work.target.name})"
    return work.wires.named(pair.old, pair.new.jumper)


def _new_words(work: Work, link: Link) -> str:
    if _may_be_own_lead(work, link):
        return f"Own lead, or new wire {link.id},"
    kind = "jumper" if link.jumper else "wire"
    words = " ".join(word for word in ("New", link.colour, kind) if word)
    return f"{words} {link.id}"


def _landings(work: Work, pair: Pair) -> Iterator[Step]:
    turn = work.turn
    notes = [
        *_needs(pair),
        *doubts(pair.old, pair.new),
        pair.new.wire.note if pair.new.wire else None,
    ]
    for number, (old, new) in enumerate(pair.ends):
        if new == CUT or turn.is_kept(old, new):
            continue
        other = pair.ends[1 - number][1]
        named = _landing_name(work, pair)
        told = dict.fromkeys(note for note in [*notes, *_stands(work, pair, old, new)] if note)
        what = " ".join(word for word in (pair.old.colour, named) if word)
        yield Step(
            stage=_stage(pair.new), kind="land", place=new, other=other, wire=pair.old.id,
            becomes=pair.new.id, tag=work.wires.on(pair.old.id) if pair.old.wire else None,
            colour=pair.old.colour,
            length_metres=pair.new.wire.length_metres if pair.new.wire else None,
            note="; ".join(told) or None,
            why=_declared(work, new, other),
            lug=turn.new_name(new),
            words=f"{named}, other end on {turn.new_name(other)}",
            text=f"{turn.new_name(new)}: land {what}, whose other end is on "
            f"{turn.new_name(other)}",
        )  # fmt: skip


def _asked(wire: Wire, volts: LugVolts | None) -> str | None:
    """What the plan asks of a wire beside its ends and colour, and what the volts there ask."""
    said = [
        wire.gauge,
        insulation_asked(wire.insulation_volts, volts),
        "screened" if wire.screened else None,
        f"twisted with {wire.twisted_with}" if wire.twisted_with else None,
        wire.note,
    ]
    return "; ".join(word for word in said if word) or None


def _stands(work: Work, pair: Pair, old: str, new: str) -> Iterator[str | None]:
    """The insulation that an old wire needs where it comes to more volts than it was at."""
    was, volts = work.hot_before.get(old), work.hot_after.get(new)
    given = pair.new.wire.insulation_volts if pair.new.wire else None
    more = volts and (was is None or abs(volts.volts) > 1.01 * abs(was.volts))
    if more or (volts is not None and given is not None and abs(volts.volts) > given):
        yield insulation_asked(given, volts)


def _declared(work: Work, one: str, other: str) -> str | None:
    """Why the second wiring says that these two places are to be joined."""
    whys = [
        change.why
        for change in work.target.changes
        if change.why and len(change.anchors) == 2 and change.kind in ("join", "bridge", "stray")
        and {work.turn.passes.get(a, a) for a in change.anchors} == {one, other}
    ]  # fmt: skip
    return "; ".join(dict.fromkeys(whys)) or None


def _parts(work: Work, leads: list[Step]) -> Iterator[Step]:
    order = {"switch": 0, "meter": 1}
    parts = sorted((work.turn.new[n] for n in work.turn.into), key=lambda p: order.get(p.kind, 2))
    for part in parts:
        yield _mount(work, part)
        yield from (step for step in leads if step.part == part.name)
    fitted = {part.name for part in parts}
    yield from (step for step in leads if step.part not in fitted)
    yield from _shifted(work)


def _mount(work: Work, part: Part) -> Step:
    before = tuple(old for old, heirs in work.turn.heirs.items() if part.name in heirs)
    place = f" in the place of {' and '.join(before)}" if before and before != (part.name,) else ""
    where = f", {part.where}" if part.where else ""
    new = "new " if part.name in work.turn.out else ""
    named_in = [c for c in work.target.changes if part.name in c.parts and c.why]
    return Step(
        stage="parts", kind="mount", part=part.name, place=part.where, instead_of=before,
        note="; ".join([*_stops(work.spec, part), *([part.note] if part.note else [])]) or None,
        why=named_in[0].why if named_in else None,
        reversible=all(c.reversible for c in named_in),
        text=f"Mount {new}{part.name} ({described(part, work.values)}{where}){place}",
    )  # fmt: skip


def _stops(spec: Spec, part: Part) -> Iterator[str]:
    """A rotary switch with more throws than the control has positions needs its stop set."""
    if not isinstance(part, Switch) or part.throws is None:
        return
    count = len(spec.controls[part.control].positions)
    if part.style in (None, "rotary") and part.throws > max(count, 2):
        yield f"set its stop to {count} positions"


def _shifted(work: Work) -> Iterator[Step]:
    for name in work.source.parts.keys() - set(work.turn.out):
        old, new = work.source.parts[name], work.target.parts[name]
        if old.where and new.where and old.where != new.where:
            yield Step(
                stage="parts", kind="shift", part=name, place=old.where, destination=new.where,
                text=f"Move {name} from {old.where} to {new.where}",
            )  # fmt: skip


def _joins(work: Work) -> Iterator[Step]:
    """Nets of the second wiring: it names no wire, so the list cannot either."""
    turn = work.turn
    for part, base in work.joins:
        tail = f" (with it {', '.join(map(turn.new_name, part[1:]))})" if part[1:] else ""
        yield Step(
            stage="wires", kind="join", place=part[0], destination=base[0], partners=base,
            note=_net_note(work, base[0]),
            lug=turn.new_name(part[0]),
            words=f"wire to {', '.join(map(turn.new_name, base))}{tail}",
            text=f"{turn.new_name(part[0])}{tail}: wire to {', '.join(map(turn.new_name, base))}",
        )  # fmt: skip


def _net_note(work: Work, place: str) -> str | None:
    names = [net.name for net in work.target.nets if net.name and place in net.members]
    volts = work.hot_after.get(place)
    said = [volts.insulation if volts else "", f"net {', '.join(names)}" if names else ""]
    return "; ".join(word for word in said if word) or None


def set_steps(work: Work, tasks: Sequence[Task]) -> Iterator[Step]:
    """Pots whose setting the second wiring states, or leaves to be found, unless it is the same.

    Args:
        work: the two wirings.
        tasks: lines of the spec's own procedure that set a pot; each stands for ours.
    """
    told = {pot_set_by(task, work.target): task for task in tasks}
    for part in work.target.parts.values():
        if isinstance(part, Pot) and (part.name in told or _is_set_anew(work, part)):
            yield _set(work, part, told.get(part.name))


def _is_set_anew(work: Work, part: Pot) -> bool:
    old = work.source.parts.get(part.name)
    stays = isinstance(old, Pot) and part.name not in work.turn.out
    if stays and isinstance(old, Pot) and old.setting_percent == part.setting_percent:
        return False
    return part.setting_percent is not None or part.fit_for is not None


def _set(work: Work, part: Pot, told: Task | None) -> Step:
    start = work.values.get(part.name)
    if part.setting_percent is not None:
        start = f"{part.setting_percent:g} % of travel from ccw"
    how = "by ohmmeter, before it is wired" if part.fit_for is None else _fed(work, part)
    first = f"start at {start}" if start and part.fit_for else start
    to = "; ".join(word for word in ((None, first) if told else (how, first)) if word)
    text = told.do[:1].upper() + told.do[1:] if told else f"Set {part.name} on the bench"
    return Step(
        stage="set", kind="set", part=part.name, place=(told and told.where) or part.where,
        destination=to or None, text=f"{text}: {to}" if to else text,
        caution=told.caution if told else None,
    )  # fmt: skip


def _fed(work: Work, part: Pot) -> str:
    """What to feed a reading with on the bench; never 50 V or more."""
    reading = work.target.readings.get(part.fit_for or "")
    if reading is None:
        return f"until {part.fit_for} reads right"
    at = " and ".join(f"{name} at {' or '.join(p)}" for name, p in reading.when.items())
    where = f", {at}" if at else ""
    few = " below 50 V" if reading.quantity == "voltage" and reading.full_scale >= HIGH else ""
    return f"known {reading.quantity}{few}{where}, until {part.fit_for} reads right"
