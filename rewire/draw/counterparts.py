"""Which switch and pole of another wiring answers to which of the original, and what differs.

A *place* is a pair: the number of a column, and of a row in it (0 the common, then one row for
each position of the control, then throws that no position uses).
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Hashable, Iterator, Mapping
from dataclasses import dataclass, replace

import numpy as np

from rewire.bench.assignment import assigned
from rewire.bench.wire_plan import WirePlan
from rewire.circuit.circuit import circuit_of
from rewire.compare.roles import roles_between
from rewire.draw.lugs import arrange, net_names, soldered_to
from rewire.records.part import Section
from rewire.records.spec import Spec, Wiring
from rewire.records.switches import Switch, moving_lug, style_of

Place = tuple[int, int]
_TIMED = {
    "shorting": "makes before it breaks", "non-shorting": "breaks before it makes",
    "unknown": "has no known timing",
}  # fmt: skip


@dataclass(frozen=True, slots=True)
class SwitchPair:
    """Switches of the original and of another wiring that stand beside each other.

    ``name`` is the control that moves them, or the switch where it is the same in both:
    then they are ``alike``, in lugs and contacts, and drawn where the lugs lie.
    """

    spec: Spec
    wiring: Wiring
    name: str
    before: tuple[Switch, ...]
    after: tuple[Switch, ...]
    alike: bool

    @property
    def turns_otherwise(self) -> str:
        """How the other switch differs though its lugs are the same; empty if it does not."""
        if not self.alike:
            return ""
        one, other = self.before[0], self.after[0]
        said = []
        if style_of(one) != style_of(other):
            said.append(f"{style_of(one)} before, {style_of(other)} now")
        for mine, theirs in zip(one.sections, other.sections, strict=True):
            if mine.timing != theirs.timing:
                name = f"pole {mine.pole}" if mine.pole else "–".join(mine.lugs)
                said.append(f"{name} {_TIMED[mine.timing]} before, {_TIMED[theirs.timing]} now")
        return "; ".join(said)


def switch_pairs(spec: Spec, wiring: Wiring) -> Iterator[SwitchPair]:
    """A pair for each switch that stays, and one per control for those that do not."""
    old, new = spec.all_of(Switch, spec.original), spec.all_of(Switch, wiring)
    alike = [name for name in old if name in new and _same_lugs(old[name], new[name])]
    for name in alike:
        yield SwitchPair(spec, wiring, name, (old[name],), (new[name],), True)
    for control in spec.controls:
        before, after = (
            tuple(s for s in group.values() if s.control == control and s.name not in alike)
            for group in (old, new)
        )
        if before or after:
            yield SwitchPair(spec, wiring, control, before, after, False)


def _same_lugs(one: Switch, other: Switch) -> bool:
    contacts = [[(s.lugs, s.groups) for s in switch.sections] for switch in (one, other)]
    same = one.control == other.control and contacts[0] == contacts[1]
    return same and arrange(one) == arrange(other)


# Poles --------------------------------------------------------------------------------------


@dataclass(frozen=True, slots=True)
class PoleColumn:
    """A section of a switch: its lugs by row. ``letter`` is what it is called."""

    letter: str
    cells: Mapping[int, str]
    """Row → full name of the lug."""


@dataclass(frozen=True, slots=True)
class Half:
    """One of the two wirings: its switches, its poles column by column, what is soldered."""

    spec: Spec
    wiring: Wiring
    switches: tuple[Switch, ...]
    poles: tuple[PoleColumn | None, ...]
    """None where only the other wiring has a pole."""
    names: Mapping[str, str]
    """Terminal of this wiring → its name in the original."""

    def reached(self, lug: str) -> frozenset[str]:
        """The places on a lug's net, by their names in the original."""
        nets = circuit_of(self.spec, self.wiring).nets
        members = nets.members[nets.of[lug]]
        return frozenset(self.names[one] for one in members if one in self.names)

    @property
    def place_of(self) -> dict[str, Place]:
        """Full name of a lug → its place in the drawing."""
        return {
            lug: (column, row)
            for column, pole in enumerate(self.poles) if pole
            for row, lug in pole.cells.items()
        }  # fmt: skip


def halves_of(pair: SwitchPair) -> tuple[Half, Half]:
    """Both wirings, each pole beside the one that carries most of the same; others come last."""
    spec, wiring = pair.spec, pair.wiring
    before = [pole for switch in pair.before for pole in _poles(switch)]
    after = [pole for switch in pair.after for pole in _poles(switch)]
    one = Half(spec, spec.original, pair.before, tuple(before), _names(spec, spec.original))
    other = Half(spec, wiring, pair.after, tuple(after), _names(spec, wiring))
    if pair.alike:
        return one, other
    worth = np.array([[_likeness(one, b, other, a) for a in after] for b in before])
    partner = dict(assigned(worth)) if before and after else {}
    beside = [after[partner[n]] if n in partner else None for n in range(len(before))]
    more = [pole for n, pole in enumerate(after) if n not in partner.values()]
    return (
        replace(one, poles=(*before, *(None for _ in more))),
        replace(other, poles=(*beside, *more)),
    )


def _likeness(one: Half, before: PoleColumn, other: Half, after: PoleColumn) -> float:
    """Rows on which both carry something in common; the same letter settles what is even."""
    rows = before.cells.keys() & after.cells.keys()
    shared = sum(
        bool(one.reached(before.cells[row]) & other.reached(after.cells[row])) for row in rows
    )
    return shared + (0.5 if before.letter == after.letter else 0.0)


def _names(spec: Spec, wiring: Wiring) -> dict[str, str]:
    """Terminal of a wiring → the terminal or point of the original in whose role it is."""
    if wiring is not spec.original:
        return {own: theirs for theirs, own in roles_between(spec, wiring).seat.items()}
    parts = circuit_of(spec, wiring).parts.values()
    terminals = (name for part in parts if not part.sections for name in part.full_terminals)
    return {name: name for name in (*spec.points, *terminals)}


def _poles(switch: Switch) -> list[PoleColumn]:
    """All sections of a switch in order, and last the lugs that are in none."""
    poles = [_pole(switch, section) for section in switch.sections]
    placed = {lug for pole in poles for lug in pole.cells.values()}
    left = [lug for lug in map(switch.terminal, switch.idle_lugs) if lug not in placed]
    below = 1 + max((len(section.groups) for section in switch.sections), default=0)
    return [*poles, *([PoleColumn("idle lugs", dict(enumerate(left, below)))] if left else [])]


def _pole(switch: Switch, section: Section) -> PoleColumn:
    commons = {pole[0] for pole in switch.poles}
    common = next((lug for lug in section.lugs if lug in commons), None) or moving_lug(section)
    own = next((pole for pole in switch.poles if common in pole), ())
    rest = [lug for lug in dict.fromkeys((*section.lugs, *own)) if lug != common]
    cells = {} if common is None else {0: common}
    for row, groups in enumerate(section.groups, 1):
        closed = {lug for group in groups if common in group for lug in group}
        thrown = next((lug for lug in rest if lug in closed), None)
        if thrown is not None:
            cells[row] = thrown
            rest.remove(thrown)
    cells.update(enumerate(rest, 1 + (0 if common is None else len(section.groups))))
    named = {row: switch.terminal(lug) for row, lug in cells.items()}
    return PoleColumn(section.pole or "–".join(section.lugs[:3]), named)


def rows_of(halves: tuple[Half, Half]) -> list[int]:
    """Rows in use, from the top; of two positions, the common stands between them."""
    used = {row for half in halves for pole in half.poles if pole for row in pole.cells}
    return [1, 0, 2] if used <= {0, 1, 2} and 0 in used else sorted(used)


# What differs -------------------------------------------------------------------------------


End = tuple[str, str]
"""A lug, and what its label or jumper shows."""


def unlike_ends(one: Half, other: Half, plan: WirePlan) -> tuple[set[End], set[End]]:
    """What is soldered to a lug of one wiring and not to the lug at that place of the other.

    For wires and jumpers this is what becomes of them by the plan of the wires; what a net or
    a part's own lead joins is compared place by place.
    """
    wires = _wires(one, other, plan)
    ends = [list(_ends(half, own)) for half, own in zip((one, other), wires, strict=True)]
    counts = [Counter(joined for _, joined in own) for own in ends]
    found: tuple[set[End], set[End]] = set(), set()
    for own, bad, left in zip(ends, found, reversed(counts), strict=True):
        for end, joined in own:
            left[joined] -= 1
            if left[joined] < 0:
                bad.add(end)
    return found


def _wires(one: Half, other: Half, plan: WirePlan) -> tuple[dict[str, object], dict[str, object]]:
    """Id of a wire, per wiring → the same for both where it ends at the same two places."""
    was: dict[str, object] = {}
    now: dict[str, object] = {}
    mine, theirs = one.place_of, other.place_of
    for number, fate in enumerate(plan.fates):
        moved = zip(fate.lifted, fate.landed, strict=True)
        same = fate.fate == "stays" or (fate.fate == "moves" and all(
            _known(old, one, mine) == _known(new, other, theirs) for old, new in moved
        ))  # fmt: skip
        if fate.was:
            was[fate.was.id] = number if same else (number, "was")
        if fate.now:
            now[fate.now.id] = number if same else (number, "now")
    return was, now


def _ends(half: Half, wires: Mapping[str, object]) -> Iterator[tuple[End, object]]:
    """All that is soldered to a lug, with what it joins that to in words both wirings share."""
    nets, at = net_names(half.wiring), half.place_of
    for switch in half.switches:
        soldered = soldered_to(half.spec, half.wiring, switch)
        for jumper in soldered.jumpers:
            yield from ((((switch.terminal(lug), jumper.shows), wires.get(jumper.id, jumper.shows)))
                        for lug in jumper.ends)  # fmt: skip
        for label in soldered.labels:
            lug = switch.terminal(label.lug)
            joined: object = wires.get(label.id, label.shows)
            if label.kind == "part":
                joined = at[lug], _known(label.id, half, at)
            elif label.kind == "net":
                others = [one for one in nets[label.id].members if one != lug]
                joined = at[lug], frozenset(_known(one, half, at) for one in others)
            yield (lug, label.shows), joined


def _known(terminal: str, half: Half, at: Mapping[str, Place]) -> Hashable:
    """A lug by its place, anything else by its name in the original."""
    return at.get(terminal) or half.names.get(terminal, terminal)
