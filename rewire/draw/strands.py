"""What stands beside the switches in the hook-up, and in what rows.

Parts of two leads, points of the set and chassis ends that are wired one after another stand in
one row, as a draughtsman draws them; a meter, a pot, a strip or a point with many leads stands
alone. Which leads become links of a row is chosen greedily, each end of a part taking one and a
point two.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Collection, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace

from networkx.utils import UnionFind

from rewire.circuit.circuit import circuit_of
from rewire.circuit.states import LimitReached
from rewire.draw.leads import LIVE, MANY_LEADS, Lead, Stop, Tag, Thing, lies, rails_of
from rewire.records.part import Part
from rewire.records.parts import Strip
from rewire.records.spec import CUT, Point, Spec, Wiring
from rewire.records.switches import Switch
from rewire.values.solved import point_volts, sense_factors, solved_of
from rewire.words.quantity import in_ohms, with_unit

_LONG_STRIP = 6
"""A strip with more tags is drawn tag by tag."""
_LONGEST = 6
"""So many things stand in one row at most."""


def tag_by_tag(part: Part) -> bool:
    """Whether it is a strip so long that each tag stands where it is wired to."""
    return isinstance(part, Strip) and len(part.terminals) > _LONG_STRIP


def chassis_of(spec: Spec) -> frozenset[str]:
    """Names of the points that are the chassis."""
    return frozenset(point.name for point in spec.points.values() if point.chassis)


@dataclass(frozen=True, slots=True)
class Around:
    """What one picture shows round its decks."""

    leads: Sequence[Lead]
    """Those that are drawn and do not hang on a switch."""
    lugs: Collection[str]
    """Terminals of the switches that are shown."""
    parts: Collection[str]
    """Names of the parts that are shown; of a long strip the tags that leads end on."""


def things_of(spec: Spec, wiring: Wiring, shown: Around) -> list[Thing]:
    """What stands beside the switches.

    A lead that ends on no part, point or lug that is shown ends on a name.
    """
    chassis, leads, lugs = chassis_of(spec), shown.leads, shown.lugs
    rails = rails_of(spec, leads)
    known = {end for lead in leads for end in lead.ends if lead.kind != "lead" or end not in rails}
    stops = {stop.ends: stop for stop in _stops(spec, wiring)
             if (stop.ends[0] in known if isinstance(stop.what, Tag)
                 else stop.what is not None and stop.what.name in shown.parts)}  # fmt: skip
    own = {end for stop in stops.values() for end in _terminals(stop)}
    with_lugs = {end for stop in stops.values() for end in _terminals(stop)
                 if isinstance(stop.what, Part) and not lies(stop.what)}  # fmt: skip
    for lead in leads:
        for end, other in (lead.ends, lead.ends[::-1]):
            leaf = (f"{end} {lead.shows}",) * 2
            on_rail = lead.kind == "lead" and end in rails
            drawn = end in own or end in lugs or (end in chassis and other in with_lugs)
            if on_rail or not drawn:
                stops[leaf] = Stop(None, leaf, (end, _loose(spec, end)))
    return list(_rows(stops.values(), leads, chassis))


def _terminals(stop: Stop) -> tuple[str, ...]:
    return stop.what.full_terminals if isinstance(stop.what, Part) else stop.ends[:1]


# Rows -------------------------------------------------------------------------------------


def _rows(
    stops: Collection[Stop], leads: Sequence[Lead], chassis: frozenset[str]
) -> Iterator[Thing]:
    """All stops, those that follow each other as one thing."""
    owner = {end: stop for stop in stops for end in _terminals(stop)}
    ends_of = {lead.shows: _ends(lead, owner) for lead in leads}
    count = Counter(end for ends in ends_of.values() for end in ends)
    alone = {stop for stop in stops if not _in_a_row(stop, count)}
    links = _links(leads, ends_of, owner, alone)
    linked: dict[str, list[Lead]] = {}
    for lead in links:
        for end in ends_of[lead.shows]:
            linked.setdefault(end, []).append(lead)
    inside = {lead.shows for lead in links}
    leaving = [(lead, end) for lead in leads if lead.shows not in inside
               for end in dict.fromkeys(ends_of[lead.shows]) if end in owner]  # fmt: skip
    done: set[Stop] = set()
    for first in stops:
        at_one_end = sum(len(linked.get(end, ())) for end in set(_terminals(first))) < 2
        if first in done or not at_one_end:
            continue
        row, joined = _followed(first, linked, ends_of, owner)
        own = {end for stop in row for end in _terminals(stop)}
        done |= {owner[end] for end in own}
        out = tuple((lead, end) for lead, end in leaving if end in own)
        yield Thing(tuple(row), tuple(joined), out, chassis)


def _in_a_row(stop: Stop, count: Mapping[str, int]) -> bool:
    """Whether it may stand in a row with others."""
    if isinstance(stop.what, Tag):
        return count[stop.ends[0]] <= MANY_LEADS
    return stop.what is None or lies(stop.what)


def _ends(lead: Lead, owner: Mapping[str, Stop]) -> tuple[str, str]:
    """The terminals of a lead; where it ends on the chassis or on nothing, its leaf there."""
    one, other = (leaf if (leaf := f"{end} {lead.shows}") in owner else end for end in lead.ends)
    return one, other


def _links(
    leads: Sequence[Lead], ends_of: Mapping[str, tuple[str, str]], owner: Mapping[str, Stop],
    alone: Collection[Stop],
) -> list[Lead]:  # fmt: skip
    """Leads that become links: those between parts and points before those to the chassis."""
    free: Counter[str] = Counter()
    for end, stop in owner.items():
        free[end] = 2 if isinstance(stop.what, Tag) else 1
    rows: UnionFind[Stop] = UnionFind()
    chosen: list[Lead] = []
    size: dict[Stop, int] = {}
    order = sorted(leads, key=lambda lead: any(
        end in owner and owner[end].what is None for end in ends_of[lead.shows]))  # fmt: skip
    for lead in order:
        one, other = ends_of[lead.shows]
        if one not in owner or other not in owner or not free[one] or not free[other]:
            continue
        a, b = rows[owner[one]], rows[owner[other]]
        long = size.get(a, 1) + size.get(b, 1)
        if a == b or {owner[one], owner[other]} & set(alone) or long > _LONGEST:
            continue
        rows.union(a, b)
        size[rows[a]] = long
        free[one] -= 1
        free[other] -= 1
        chosen.append(lead)
    return chosen


def _followed(
    first: Stop, linked: Mapping[str, Sequence[Lead]], ends_of: Mapping[str, tuple[str, str]],
    owner: Mapping[str, Stop],
) -> tuple[list[Stop], list[Lead]]:  # fmt: skip
    """A row from one of its ends to the other."""
    row, joined = list[Stop](), list[Lead]()
    stop: Stop | None = first
    entered = ""
    while stop is not None:
        near = entered or next((e for e in _terminals(stop) if not linked.get(e)), stop.ends[0])
        far = next((e for e in _terminals(stop) if e != near), near)
        row.append(replace(stop, ends=(near, far)))
        onward = next((lead for lead in linked.get(far, ()) if lead not in joined), None)
        if onward is None:
            return row, joined
        joined.append(onward)
        one, other = ends_of[onward.shows]
        entered = other if one == far else one
        stop = owner[entered]
    return row, joined


# What they are ----------------------------------------------------------------------------


def _stops(spec: Spec, wiring: Wiring) -> Iterator[Stop]:
    """Every part but the switches, long strips tag by tag, and every point but the chassis."""
    parts = circuit_of(spec, wiring).parts
    new = wiring.parts if wiring is not spec.original else {}
    values, clips = _values(spec, wiring, parts), sense_factors(spec, wiring)
    for name, part in parts.items():
        if isinstance(part, Switch):
            continue
        if tag_by_tag(part):
            for end in part.full_terminals:
                yield Stop(Tag(end, f"part:{part.name}"), (end, end))
            continue
        said = tuple(filter(None, (*values[name].split(", "), _rating(part))))
        ends = part.full_terminals
        clip = clips.get(name, "")
        yield Stop(part, (ends[0], ends[-1]), said, name in new, clip)
    for point in spec.points.values():
        if not point.chassis:
            yield Stop(_tag_of(spec, point), (point.name, point.name))


def _tag_of(spec: Spec, point: Point) -> Tag:
    """A point of the set with the most volts that can stand there, and a sign where they hurt."""
    high, said = point_volts(spec).get(point.name), ""
    if high is not None:
        said = f"{LIVE} {high.figure}"
    elif point.volts is not None or point.rises_to is not None:
        said = f"{with_unit(point.most_volts, 'V')}{' AC' if point.ac else ''}"
    shown = said.replace("-", "−")
    return Tag(point.name, f"point:{point.name}", shown, high is not None, point.where or "")


def _values(spec: Spec, wiring: Wiring, parts: Mapping[str, Part]) -> dict[str, str]:
    """Each part's value as printed; what is fitted with the value that was chosen."""
    said = {name: part.value for name, part in parts.items()}
    try:
        solved = solved_of(spec, wiring)
    except LimitReached:
        return said
    for unknown in solved.unknowns:
        found = solved.chosen.get(unknown.part, solved.exact.get(unknown.part))
        if found is not None and unknown.is_setting:
            said[unknown.part] = f"{parts[unknown.part].value}, set {100.0 * found:.0f} %"
        elif found is not None:
            said[unknown.part] = in_ohms(found)
    return said


def _rating(part: Part) -> str:
    unit = "volts" if part.kind == "capacitor" else "watts"
    said = [f"{most:g} {what[0].upper()}" for what, most in part.ratings if what == unit]
    resistance = getattr(part, "resistance", None)
    if part.kind == "meter" and resistance is not None:
        said.append(in_ohms(resistance))
    return ", ".join(said)


def _loose(spec: Spec, end: str) -> str:
    """What stands at the end of a lead that goes to nothing drawn; of a point with its volts."""
    volts = f" {_tag_of(spec, spec.points[end]).volts}" if end in spec.points else ""
    return "cut off" if end == CUT else f"to {end}{volts}".rstrip()
