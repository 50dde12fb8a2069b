"""Off and out: ends to lift, lugs to clear, parts to take out."""

from __future__ import annotations

from collections.abc import Iterator, Mapping

from rewire.bench.moves.describe import described
from rewire.bench.moves.links import Link, Pair, ends_to_lift
from rewire.bench.moves.model import Step
from rewire.bench.moves.parts import Turnover, differing
from rewire.bench.moves.reach import near_first
from rewire.bench.moves.work import Work
from rewire.circuit.circuit import circuit_of
from rewire.compare.roles import part_of
from rewire.compare.words import listing
from rewire.records.spec import CUT, Capacitor, Meter, Part, Resistor, Switch


def lift_steps(work: Work) -> list[Step]:
    """Every end that comes off its lug, near lugs first."""
    steps = [
        *(step for pair in work.links.pairs for step in _moved(work, pair)),
        *(step for link in work.links.out for step in _coming_out(work, link)),
        *(
            _lift(work, one.link, one.number, None, one.to)
            for one in work.adopted
            if one.link.ends[one.number] != CUT
        ),
        *_freed(work),
    ]
    return sorted(steps, key=lambda step: near_first(work.turn.old, step.place or ""))


def _moved(work: Work, pair: Pair) -> Iterator[Step]:
    for number, (old, new) in enumerate(pair.ends):
        if old != CUT and not work.turn.is_kept(old, new):
            yield _lift(work, pair.old, number, pair.new.id, new)


def _coming_out(work: Work, link: Link) -> Iterator[Step]:
    lifted = ends_to_lift(work.turn, link)
    for number, place in enumerate(link.ends):
        if place in lifted:
            yield _lift(work, link, number, None, None)


def _lift(work: Work, link: Link, number: int, becomes: str | None, to: str | None) -> Step:
    turn = work.turn
    place, other = link.ends[number], link.ends[1 - number]
    goes = _goes(turn, to)
    comes = "is cut off at its other end" if other == CUT else f"comes from {turn.old_name(other)}"
    source = "cut off" if other == CUT else f"from {turn.old_name(other)}"
    named = work.wires.named(link)
    what = " ".join(word for word in (link.colour, named) if word)
    return Step(
        stage="lift", kind="lift", place=place, destination=to, other=other, wire=link.id,
        tag=work.wires.on(link.id) if link.wire else None,
        becomes=becomes, colour=link.colour, note=link.wire.note if link.wire else None,
        part=part_of(other) if not link.wire else None,
        lug=turn.old_name(place), words=f"{named} {source}: {goes.removeprefix('goes ')}",
        text=f"{turn.old_name(place)}: lift {what}, which {comes}; it {goes}",
    )  # fmt: skip


def _goes(turn: Turnover, to: str | None) -> str:
    if to is None:
        return "comes out"
    return "is insulated and tied back" if to == CUT else f"goes to {turn.new_name(to)}"


def _freed(work: Work) -> Iterator[Step]:
    """Lugs of nets: no wire is known, so whatever joins the lug to the others is lifted."""
    net_of = circuit_of(work.spec, work.target).nets.of
    turn = work.turn
    for place, partners in work.nets.freed:
        to = _destination(turn, net_of, place, partners)
        goes = f"in {work.target.name} that goes to {turn.new_name(to)}" if to else "it stays off"
        joint = f"whatever joins it to {_some([turn.old_name(p) for p in partners])}"
        heading = f"to {turn.new_name(to)}" if to else "stays off"
        yield Step(
            stage="lift", kind="free", place=place, destination=to, partners=partners,
            lug=turn.old_name(place), words=f"{joint}: {heading}",
            text=f"{turn.old_name(place)}: lift {joint}; {goes}",
        )  # fmt: skip


def _destination(
    turn: Turnover, net_of: Mapping[str, int], place: str, partners: tuple[str, ...]
) -> str | None:
    """Where what is lifted off a lug of a net goes: the like lug that takes up the same net."""
    if not turn.goes(place):
        return None
    reached = {net_of[p] for p in partners if not turn.goes(p)}
    heirs = [h for h in (turn.passes.get(place),) if h]
    for name in turn.heirs.get(part_of(place), ()):
        part = turn.new[name]
        heirs += [part.terminal(lug) for lug in part.terminals]
    like = [h for h in heirs if net_of[h] in reached]
    own = place.split(".")[-1]
    return next((h for h in like if h.split(".")[-1] == own), next(iter(like), None))


def _some(places: list[str], most: int = 5) -> str:
    if len(places) <= most:
        return ", ".join(places)
    return f"{', '.join(places[:most])} and {len(places) - most} more"


def take_out_steps(work: Work) -> list[Step]:
    """Parts that come out, those on their leads first, switches last."""
    order = {"switch": 2, "meter": 1}
    parts = sorted((work.turn.old[n] for n in work.turn.out), key=lambda p: order.get(p.kind, 0))
    left = [
        link for link in work.links.out
        if len(ends_to_lift(work.turn, link)) < 2 - (CUT in link.ends)
    ]  # fmt: skip
    steps = []
    for part in parts:
        mine = [link for link in left if part.name in map(part_of, link.ends)]
        left = [link for link in left if link not in mine]
        steps.append(_take_out(work, part, mine))
    return [*steps, *_loose(work)]


def _loose(work: Work) -> Iterator[Step]:
    """Of a net no wire is known, so what is left of its wires has to be looked for."""
    freed = [work.turn.old_name(place) for place, _ in work.nets.freed]
    if freed:
        yield Step(
            stage="remove", kind="task",
            text=f"Take out each wire that now hangs loose where {_some(freed, 12)} was lifted, "
            "or keep it for a new wire below if it is fit for that",
        )  # fmt: skip


def _hurts(part: Part) -> str | None:
    """What to mind with this part in hand."""
    return "discharge it first, and measure" if isinstance(part, Capacitor) else None


def _take_out(work: Work, part: Part, mine: list[Link]) -> Step:
    heirs = work.turn.heirs.get(part.name, ())
    same = work.turn.new.get(part.name)
    wires = tuple(link.id for link in mine)
    with_it = [work.wires.on(link.id) for link in mine if link.wire]
    leave = "leave" if len(with_it) > 1 else "leaves"
    leaving = f"; with it {leave} {listing(with_it)}" if with_it else ""
    where = f", {part.where}" if part.where else ""
    fitted = {part.name: f"fitted for {part.fit_for}"} if isinstance(part, Resistor) else {}
    return Step(
        stage="remove", kind="take-out", part=part.name, place=part.name, instead_of=heirs,
        leaves_with=wires, note=_care(part, part.note),
        caution=_hurts(part), why=_declared(work, part.name) or _why(part, same),
        text=f"Take out {part.name} ({described(part, fitted)}{where}){leaving}",
    )  # fmt: skip


def _declared(work: Work, name: str) -> str | None:
    """Why the second wiring says that a part is removed."""
    whys = [c.why for c in work.target.changes
            if c.kind == "remove" and name in c.parts and c.why]  # fmt: skip
    return "; ".join(dict.fromkeys(whys)) or None


def _why(part: Part, same: Part | None) -> str | None:
    if same is None:
        return None
    words = listing(differing(part, same))
    return f"{part.name} of the plan is another piece: it differs in {words}"


def _care(part: Part, note: str | None) -> str | None:
    said = []
    if isinstance(part, Meter):
        said.append("join its terminals with a wire for carrying: that brakes the pointer")
    if isinstance(part, Switch) and part.style not in ("relay", "jack"):
        said.append("write down which position it stands in")
    return "; ".join([*said, *([note] if note else [])]) or None
