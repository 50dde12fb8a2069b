"""What changes from the original to another wiring: nets as rails, parts and contacts as rungs.

Each rail and rung is kept, gone or new; what is changed has a number, by which pictures and
tables call it.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, fields, replace
from typing import Literal

from rewire.circuit.circuit import Nets, circuit_of
from rewire.compare.roles import roles_between
from rewire.draw.metering import apart_from_metering
from rewire.records.part import Part, Section
from rewire.records.parts import Pot
from rewire.records.spec import Spec, Wiring
from rewire.records.switches import Switch
from rewire.values.answers import WiringValues
from rewire.words.quantity import in_ohms

Mark = Literal["kept", "replaced", "removed", "new"]
Ends = tuple[int | None, ...]
"""Rails of the terminals in order; None is joined to nothing."""
Chosen = Mapping[str, str]
"""Part → the value that was found for it, in words."""
APART = "▲"
"""Marks a contact that carries no part of the metering."""
_TOLD = frozenset({"place", "between", "replaces", "note", "where", "label", "layout"})
"""Fields that say where a part is, or how it is drawn, and not what it is."""


@dataclass(frozen=True, slots=True)
class Rail:
    """A net of the picture; ``was`` and ``now`` are its places in either wiring."""

    number: int
    fate: Literal["kept", "removed", "new"]
    points: tuple[str, ...]
    was: tuple[str, ...]
    now: tuple[str, ...]

    @property
    def name(self) -> str:
        """By its points, else by a terminal of a part; both wirings' where they differ."""
        was, now = self.name_in(self.was), self.name_in(self.now)
        return was or now if not was or not now or was == now else f"{was} → {now}"

    def name_in(self, places: Sequence[str]) -> str:
        """Its name in one wiring, of which these are its places; empty if it has none there."""
        return "/".join(self.points) or min(places, key=_plainness, default="")


def _plainness(place: str) -> tuple[int, str]:
    """A meter's terminal says most, then that of another part, a switch's lug least."""
    lug = place.partition(".")[2]
    ordinary = 1 if lug in ("1", "2", "ccw", "cw", "wiper") else 2
    return (0 if lug in ("+", "-") else ordinary), place


@dataclass(frozen=True, slots=True)
class Side:
    """What one wiring has on a rung; ``shows`` is ``part:R31`` or ``contact:S3.A-A1``."""

    shows: str
    name: str
    value: str = ""

    @property
    def text(self) -> str:
        """Matched in one line."""
        return f"{self.name} {self.value}".rstrip()


@dataclass(frozen=True, slots=True)
class Rung:
    """One line of the picture: a part or a contact between rails.

    ``kind`` is the part's, ``contact``, or ``tie`` where a net was parted or joined. Rungs of
    one ``key`` share a number and a row of the table. ``moved``: the same part is drawn twice,
    where it was and where it is now. ``touched``: kept, but of a switch that is another one.
    """

    key: str
    kind: str
    mark: Mark
    ends: Ends
    was: Side | None
    now: Side | None
    below: str = ""
    """Positions in which a contact is closed, or a remark."""
    pole: str = ""
    moved: bool = False
    touched: bool = False

    @property
    def side(self) -> Side:
        """What is there now; where nothing is, what was."""
        side = self.now or self.was
        assert side is not None, self.key
        return side

    @property
    def rails(self) -> frozenset[int]:
        """The rails it reaches."""
        return frozenset(end for end in self.ends if end is not None)


@dataclass(frozen=True, slots=True)
class Changes:
    """All rails; the rungs that are drawn and those that are not, which the tables tell."""

    rails: tuple[Rail, ...]
    drawn: tuple[Rung, ...]
    aside: tuple[Rung, ...]
    """Joined to nothing, or staying away from all that is changed."""
    numbers: Mapping[str, int]
    """Key of a rung → its number; what is kept has none."""


def chosen_of(spec: Spec, wiring: Wiring, values: WiringValues | None) -> Chosen:
    """The values that were left open in the spec and have been found, in words."""
    if values is None:
        return {}
    found = {f.part: in_ohms(f.chosen_ohms) for f in values.fits if f.chosen_ohms is not None}
    ohms = {name: in_ohms(pot.ohms) for name, pot in spec.all_of(Pot, wiring).items()}
    settings = ((p.part, p.setting_percent) for p in values.pots if p.setting_percent is not None)
    return {**found, **{part: f"{ohms[part]} at {at:.0f} %" for part, at in settings}}


def changes_of(spec: Spec, wiring: Wiring, chosen: Chosen) -> Changes:
    """What changes from the original to a wiring.

    A contact with a spare lug, or between lugs of one net, is not drawn.
    """
    matched = _matched(spec, wiring)
    rungs = [*_ties(matched), *_part_rungs(matched, chosen), *_contact_rungs(matched)]
    loose = [rung for rung in rungs if _joins_nothing(rung)]
    joined = [rung for rung in rungs if not _joins_nothing(rung)]
    near = _reached(joined, matched)
    drawn = _in_order([rung for number, rung in enumerate(joined) if number in near])
    away = [rung for number, rung in enumerate(joined) if number not in near]
    numbers: dict[str, int] = {}
    for rung in (*drawn, *(rung for rung in loose if rung.kind != "contact")):
        if rung.mark != "kept":
            numbers.setdefault(rung.key, len(numbers) + 1)
    return Changes(matched.rails, tuple(drawn), (*loose, *away), numbers)


def _joins_nothing(rung: Rung) -> bool:
    if rung.kind == "contact":
        return None in rung.ends or rung.ends[0] == rung.ends[1]
    return not rung.rails


def _reached(rungs: Sequence[Rung], matched: Matched) -> set[int]:
    """Numbers of the rungs that are changed, or hang on changed ones.

    At the chassis the section ends, but for what lies between two rails that are in it.
    """
    points = matched.spec.points
    chassis = {r.number for r in matched.rails if any(points[p].chassis for p in r.points)}
    inside = {n for n, rung in enumerate(rungs) if rung.mark != "kept" or rung.touched}
    while True:
        seen = {end for n in inside for end in rungs[n].rails}
        more = {
            n for n, rung in enumerate(rungs)
            if n not in inside and (rung.rails <= seen or rung.rails & seen - chassis)
        }  # fmt: skip
        if not more:
            return inside
        inside |= more


def _in_order(rungs: Sequence[Rung]) -> list[Rung]:
    """Ties, meter, pots, then the poles by their letters with old and new together, the rest."""
    first = {rung.key: number for number, rung in reversed(list(enumerate(rungs)))}
    kinds, marks = ("tie", "meter", "pot", "contact"), ("kept", "replaced", "removed", "new")

    def place(rung: Rung) -> tuple[int, str, int, int]:
        kind = kinds.index(rung.kind) if rung.kind in kinds else len(kinds)
        return kind, rung.pole, marks.index(rung.mark) if rung.pole else 0, first[rung.key]

    return sorted(rungs, key=place)


# Rails --------------------------------------------------------------------------------------


Pair = tuple[int | None, int | None]
"""Number of a net in the original and in the other wiring."""


@dataclass(frozen=True, slots=True)
class Matched:
    """Matched wirings, their rails, and which one a terminal is on; none if joined to nothing."""

    spec: Spec
    wiring: Wiring
    pairs: tuple[Pair, ...]
    rails: tuple[Rail, ...]
    was_on: Mapping[str, int]
    now_on: Mapping[str, int]


def _matched(spec: Spec, wiring: Wiring) -> Matched:
    old, new = circuit_of(spec, spec.original).nets, circuit_of(spec, wiring).nets
    seat = roles_between(spec, wiring).seat
    pairs = _pairs(spec, old, new, seat)
    number = {pair: n for n, pair in enumerate(pairs)}
    was_on, now_on = _rails_on(old, [p[0] for p in pairs]), _rails_on(new, [p[1] for p in pairs])
    for anchor, place in seat.items():
        shared = number.get((old.of[anchor], new.of[place]))
        if shared is not None:
            was_on[anchor] = now_on[place] = shared
    rails = tuple(_rail(spec, n, pair, old, new) for n, pair in enumerate(pairs))
    return Matched(spec, wiring, pairs, rails, was_on, now_on)


def _pairs(spec: Spec, old: Nets, new: Nets, seat: Mapping[str, str]) -> tuple[Pair, ...]:
    """Nets that go together: by points, then by the most terminals in common, then alone.

    Points are never moved by a swap, so they settle which nets are the same one.
    """
    pairs: dict[Pair, None] = {(old.of[p], new.of[p]): None for p in spec.points}
    taken = {pair[0] for pair in pairs}, {pair[1] for pair in pairs}
    joined = [
        [n for n, members in enumerate(nets.members) if len(members) > 1] for nets in (old, new)
    ]
    for before, after in _by_likeness(old, new, seat):
        if before not in taken[0] and after not in taken[1]:
            pairs[(before, after)] = None
            taken[0].add(before)
            taken[1].add(after)
    pairs.update(((n, None), None) for n in joined[0] if n not in taken[0])
    pairs.update(((None, n), None) for n in joined[1] if n not in taken[1])
    return tuple(pairs)


def _by_likeness(old: Nets, new: Nets, seat: Mapping[str, str]) -> list[tuple[int, int]]:
    """Pairs of joined nets, those with most in common first; lugs of one name count a little."""
    common: dict[tuple[int, int], float] = {}
    for anchor, place in seat.items():
        pair = old.of[anchor], new.of[place]
        if len(old.members[pair[0]]) > 1 and len(new.members[pair[1]]) > 1:
            common[pair] = common.get(pair, 0.0) + 1.0
    for lug in old.of.keys() & new.of.keys() - seat.keys():
        pair = old.of[lug], new.of[lug]
        if pair in common:
            common[pair] += 0.01
    return sorted(common, key=lambda p: (-round(common[p], 6), old.members[p[0]], p))


def _rails_on(nets: Nets, numbers: Sequence[int | None]) -> dict[str, int]:
    """Terminal → rail: where a net has more than one rail, the first."""
    first = {net: rail for rail, net in reversed(list(enumerate(numbers))) if net is not None}
    return {place: rail for net, rail in first.items() for place in nets.members[net]}


def _rail(spec: Spec, number: int, pair: Pair, old: Nets, new: Nets) -> Rail:
    was = old.members[pair[0]] if pair[0] is not None else ()
    now = new.members[pair[1]] if pair[1] is not None else ()
    points = tuple(sorted(set(was) & set(now) & spec.points.keys()))
    return Rail(number, "kept" if was and now else "removed" if was else "new", points, was, now)


def _ties(matched: Matched) -> Iterator[Rung]:
    """Nets that were one and are not, or are one and were not: from each rail to the next."""
    count = 0
    for side in (0, 1):
        last: dict[int, int] = {}
        for rail, pair in enumerate(matched.pairs):
            net = pair[side]
            if net is not None and net in last:
                count += 1
                said = "was one net, now parted" if side == 0 else "now one net"
                label = Side(f"tie:{count}", said)
                sides = (label, None) if side == 0 else (None, label)
                yield Rung(f"tie {count}", "tie", "removed" if side == 0 else "new",
                           (last[net], rail), *sides)  # fmt: skip
            if net is not None:
                last[net] = rail


# Parts --------------------------------------------------------------------------------------


def heirs_of(spec: Spec, wiring: Wiring) -> dict[str, str]:
    """Original part → the one part that stands for all of it, terminal for terminal."""
    roles, now = roles_between(spec, wiring), circuit_of(spec, wiring).parts
    found = {}
    for name, part in circuit_of(spec, spec.original).parts.items():
        takers = roles.takers(part) if part.has_role and name not in roles.missing else ()
        heir = now[takers[0]] if len(takers) == 1 else None
        if heir and (part.kind, len(part.terminals)) == (heir.kind, len(heir.terminals)):
            found[name] = heir.name
    return found


def same_part(one: Part, other: Part) -> bool:
    """Whether it is the very same part; what is only said about it does not count."""
    told = (f.name for f in fields(one) if f.name not in _TOLD)
    return type(one) is type(other) and all(getattr(one, n) == getattr(other, n) for n in told)


def _part_rungs(matched: Matched, chosen: Chosen) -> Iterator[Rung]:
    """All parts but switches and strips, of both wirings."""
    spec, wiring = matched.spec, matched.wiring
    heirs = heirs_of(spec, wiring)
    now = {n: p for n, p in circuit_of(spec, wiring).parts.items() if p.has_role}
    for name, part in circuit_of(spec, spec.original).parts.items():
        heir = now.get(heirs.get(name, ""))
        if heir is not None:
            yield from _pair(matched, part, heir, chosen)
        elif part.has_role:
            ends = tuple(map(matched.was_on.get, part.full_terminals))
            yield Rung(f"removed {name}", part.kind, "removed", ends, _label(part, {}), None)
    for name, part in now.items():
        if name not in heirs.values():
            ends = tuple(map(matched.now_on.get, part.full_terminals))
            yield Rung(f"new {name}", part.kind, "new", ends, None, _label(part, chosen))


def _label(part: Part, chosen: Chosen) -> Side:
    return Side(f"part:{part.name}", part.name, chosen.get(part.name, part.value))


def _pair(matched: Matched, part: Part, heir: Part, chosen: Chosen) -> Iterator[Rung]:
    """One rung where the part stays between its rails, else one there and one here."""
    forerunners = heir.replaces or {}
    places = (forerunners.get(lug) or part.terminal(lug) for lug in heir.terminals)
    before = tuple(map(matched.was_on.get, places))
    after = tuple(map(matched.now_on.get, heir.full_terminals))
    old, new = _label(part, {}), _label(heir, chosen)
    rung = Rung(f"part {part.name}", part.kind, "kept", after, old, new)
    if before == after or (part.turns_freely and before == after[::-1]):
        yield rung if same_part(part, heir) else replace(rung, mark="replaced")
    elif before == after[::-1]:
        yield replace(rung, mark="replaced", below="turned round")
    else:
        yield replace(rung, mark="removed", ends=before, now=None, moved=True)
        yield replace(rung, mark="new", was=None, moved=True)


# Contacts -----------------------------------------------------------------------------------


@dataclass(frozen=True, slots=True)
class Closing:
    """Two lugs of a switch and the positions in which they are closed on each other."""

    switch: Switch
    pole: str
    lugs: tuple[str, str]
    positions: tuple[str, ...]
    rails: tuple[int | None, int | None]
    idle: bool
    """It carries no part of the metering."""

    @property
    def side(self) -> Side:
        """As a side of a rung."""
        one, two = self.lugs
        name = self.switch.name
        return Side(f"contact:{name}.{one}-{two}", name, f"{one}–{two}")

    @property
    def task(self) -> object:
        """What it does; one that joins nothing is known by its own lugs."""
        if None in self.rails or self.rails[0] == self.rails[1]:
            return (self.side.shows, self.rails)
        return (self.switch.control, frozenset(self.rails), self.positions)

    def likeness(self, other: Closing) -> int:
        """In how much of lugs, pole and switch it agrees with one of the same task."""
        return (
            int(self.lugs == other.lugs) + int(self.pole == other.pole)
            + int(self.switch.name == other.switch.name)
        )  # fmt: skip


def _contact_rungs(matched: Matched) -> Iterator[Rung]:
    """Every contact of both wirings once: kept, replaced, removed or new."""
    old = list(_closings(matched, matched.spec.original, matched.was_on))
    new = list(_closings(matched, matched.wiring, matched.now_on))
    waiting = list(range(len(new)))
    heirs: dict[int, int] = {}
    for likeness in (3, 2, 1, 0):
        for number, one in enumerate(old):
            alike = (n for n in waiting if number not in heirs and one.task == new[n].task
                     and one.likeness(new[n]) >= likeness)  # fmt: skip
            heir = next(alike, None)
            if heir is not None:
                heirs[number] = heir
                waiting.remove(heir)
    for number, one in enumerate(old):
        yield _contact(one, new[heirs[number]] if number in heirs else None)
    for number in waiting:
        yield _contact(None, new[number])


def _closings(matched: Matched, wiring: Wiring, on: Mapping[str, int]) -> Iterator[Closing]:
    spec = matched.spec
    for switch in circuit_of(spec, wiring).switches:
        names = spec.controls[switch.control].positions
        apart = apart_from_metering(spec, wiring, switch)
        for number, section in enumerate(switch.sections, 1):
            for lugs, closed in _closed(section).items():
                one, two = (on.get(switch.terminal(lug)) for lug in lugs)
                idle = any(at in closed and set(lugs) <= set(group) for at, group in apart)
                yield Closing(
                    switch, section.pole or f"section {number}", lugs,
                    tuple(names[at] for at in closed), (one, two),
                    idle and one is not None and two is not None and one != two,
                )  # fmt: skip


def _closed(section: Section) -> dict[tuple[str, str], list[int]]:
    """Pairs of lugs → positions that close them; a group of more lugs is a star about its first."""
    pairs: dict[tuple[str, str], list[int]] = {}
    for position, groups in enumerate(section.groups):
        for first, *others in groups:
            for lug in others:
                pairs.setdefault((first, lug), []).append(position)
    return pairs


def _contact(was: Closing | None, now: Closing | None) -> Rung:
    """The rung of a contact alone, or of one and its heir."""
    here = now or was
    assert here is not None
    sides = [one.side if one else None for one in (was, now)]
    titles = [f"{one.switch.name} pole {one.pole}" for one in (was, now) if one]
    mark: Mark = "new" if was is None else "removed"
    if was and now:
        mark = "kept" if was.side == now.side else "replaced"
    title = " → ".join(titles if mark == "replaced" else titles[:1])
    below = ", ".join(here.positions) + (f" {APART}" if here.idle else "")
    touched = was is not None and now is not None and not same_part(was.switch, now.switch)
    return Rung(
        f"{mark} {title}", "contact", mark, here.rails, sides[0], sides[1], below,
        title.rpartition(" ")[2], touched=touched,
    )  # fmt: skip
