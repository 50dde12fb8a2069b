"""A spec read for its circuit alone, from the format's text: nodes, contacts, resistances."""

import re
from collections.abc import Callable, Collection, Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from fractions import Fraction
from functools import cache, cached_property
from itertools import product
from pathlib import Path
from typing import Any

import yaml

from tests.simulator.netlist import Ends, Joined, on_ways
from tests.simulator.quantities import Pieces, built, copper, quantity

TWO_ENDS = ("resistor", "capacitor", "choke", "diode", "lamp", "fuse")
KINDS = (*TWO_ENDS, "switch", "meter", "pot", "strip")
TERMINALS = {"meter": ("+", "-"), "diode": ("A", "K"), "pot": ("ccw", "wiper", "cw")}
WORN = Fraction(2, 100)
"""Ohm: a contact after endurance, MIL-DTL-18396E 3.5.4.10."""
State = Mapping[str, str]
Values = Mapping[str, Fraction]
Ohms = Callable[[Values], Fraction]
Merged = tuple[dict[str, tuple[Ends, Fraction]], Joined]


@dataclass(frozen=True)
class Value:
    """A value by itself; ``spread`` is None where no tolerance is given."""

    nominal: Fraction | None
    spread: Fraction | None

    def ends(self) -> tuple[Fraction, Fraction]:
        assert self.nominal is not None
        assert self.spread is not None
        return self.nominal * (1 - self.spread), self.nominal * (1 + self.spread)


@dataclass(frozen=True)
class Branch:
    """What lies between two terminals: ``name`` is its own, ``part`` whose it is."""

    name: str
    part: str
    ends: Ends
    ohms: Ohms


@dataclass(frozen=True)
class Section:
    """Lugs that contacts link, and what they close at each position."""

    switch: str
    control: str
    lugs: tuple[str, ...]
    shorting: str
    closed: Mapping[str, tuple[tuple[str, ...], ...]]


@dataclass(frozen=True)
class Upset:
    """One thing that is not as it should be."""

    wire: int | None = None
    contact: frozenset[str] = frozenset()
    opened: str | None = None
    shorted: str | None = None
    wiper: str | None = None
    joined: tuple[str, ...] = ()


SOUND = Upset()


@dataclass(frozen=True)
class Net:
    """A wiring in one state; contacts are branches, of zero ohms where nothing is stated."""

    branches: Sequence[Branch]
    joined: Joined
    done: dict[int, tuple[Values, Merged]] = field(default_factory=dict, compare=False)

    def merged(self, values: Values) -> Merged:
        """Resistors by name, branches of zero ohms joined; and the nodes that leaves."""
        if id(values) not in self.done:
            self.done[id(values)] = values, self._merged(values)
        return self.done[id(values)][1]

    def _merged(self, values: Values) -> Merged:
        nodes, ohms = self.joined.copy(), {b.name: b.ohms(values) for b in self.branches}
        for branch in self.branches:
            if not ohms[branch.name]:
                nodes.join(branch.ends)
        found = {}
        for branch in self.branches:
            ends = nodes(branch.ends[0]), nodes(branch.ends[1])
            if ends[0] != ends[1]:
                found[branch.name] = ends, ohms[branch.name]
        return found, nodes

    def kept(self, pairs: Sequence[Ends]) -> "Net":
        """The same without what can carry nothing between any of these pairs."""
        links = {b.name: (self.joined(b.ends[0]), self.joined(b.ends[1])) for b in self.branches}
        left = on_ways(links, [(self.joined(one), self.joined(two)) for one, two in pairs])
        return Net([b for b in self.branches if b.name in left], self.joined)


@cache
def load(path: Path) -> dict[str, Any]:
    """A spec with every scalar as it is written."""
    read: dict[str, Any] = yaml.load(path.read_text(encoding="utf-8"), Loader=yaml.BaseLoader)
    return read


def kind_of(part: Mapping[str, Any]) -> str:
    return next(kind for kind in KINDS if kind in part)


@dataclass(frozen=True)
class Rig:
    """One wiring of a spec."""

    spec: dict[str, Any]
    name: str
    found: Mapping[str, Fraction] = field(default_factory=dict)
    """What was fitted: part → ohms, or the share of a pot."""

    @cached_property
    def wiring(self) -> dict[str, Any]:
        return self.spec["wirings"][self.name]

    @cached_property
    def parts(self) -> dict[str, dict[str, Any]]:
        return {**self.spec.get("parts", {}), **(self.wiring.get("parts") or {})}

    @cached_property
    def controls(self) -> dict[str, list[str]]:
        given = self.spec.get("controls", {})
        return {n: c["positions"] if isinstance(c, dict) else c for n, c in given.items()}

    def states(self) -> Iterator[dict[str, str]]:
        """Every state, never's aside."""
        for chosen in product(*self.controls.values()):
            state = dict(zip(self.controls, chosen, strict=True))
            if not any(_matches(state, never) for never in self.spec.get("never", ())):
                yield state

    @cached_property
    def chassis(self) -> str | None:
        points = self.spec.get("points", {})
        return next((n for n, p in points.items() if (p or {}).get("chassis")), None)

    @cached_property
    def wires(self) -> list[Ends]:
        each = self.wiring.get("wires") or []
        return [(w["from"], w["to"]) if isinstance(w, dict) else (w[0], w[1]) for w in each]

    @cached_property
    def copper(self) -> dict[int, Fraction]:
        """Ohms of the wires that state a length and a gauge, by their number."""
        each = self.wiring.get("wires") or []
        stated = {n: w for n, w in enumerate(each) if isinstance(w, dict) and "gauge" in w}
        return {n: copper(w["length"], w["gauge"]) for n, w in stated.items() if "length" in w}

    @cached_property
    def readings(self) -> dict[str, dict[str, Any]]:
        return {**self.spec.get("readings", {}), **self.wiring.get("readings", {})}

    def here(self, place: str) -> str:
        """A place named as in the original, by its name in this wiring."""
        for name, part in self.parts.items():
            roles = part.get("replaces")
            if isinstance(roles, str):
                lugs = TERMINALS.get(kind_of(part), ("1", "2"))
                roles = {lug: f"{roles}.{lug}" for lug in lugs}
            for lug, played in (roles or {}).items():
                if played == place:
                    return f"{name}.{lug}"
        return place

    def meter(self, reading: Mapping[str, Any]) -> str:
        """The meter that is read here."""
        original = Rig(self.spec, "original").parts
        meters = [name for name, part in original.items() if "meter" in part]
        return self.here(f"{reading.get('meter', meters[0])}.+").split(".")[0]

    @cached_property
    def sound(self) -> Joined:
        return self.joined()

    def joined(self, without: Collection[int | None] = ()) -> Joined:
        nodes, nets = Joined(), self.wiring.get("nets") or []
        for net in nets.values() if isinstance(nets, dict) else nets:
            nodes.join(net)
        for number, ends in enumerate(self.wires):
            if number not in without and "cut" not in ends:
                nodes.join(ends)
        for name, part in self.parts.items():
            if "between" in part:
                lugs = TERMINALS.get(kind_of(part), ("1", "2"))
                for lug, place in zip(lugs, part["between"], strict=True):
                    nodes.join((f"{name}.{lug}", place))
        return nodes

    @cached_property
    def values(self) -> dict[str, Value]:
        return dict(found for name in self.parts for found in self._values(name))

    @cached_property
    def nominal(self) -> dict[str, Fraction]:
        """Every value that is known."""
        return {n: v.nominal for n, v in self.values.items() if v.nominal is not None}

    def _values(self, name: str) -> Iterator[tuple[str, Value]]:
        part, kind = self.parts[name], kind_of(self.parts[name])
        spread = quantity(part["tolerance"]) / 100 if "tolerance" in part else None
        if kind == "resistor" and part["resistor"] == "fit":
            yield f"{name}#0", Value(self.found.get(name), spread)
        elif kind == "resistor":
            for i, ohms in enumerate(built(part["resistor"])[1]):
                yield f"{name}#{i}", Value(ohms, spread)
        elif kind == "meter" and part.get("resistance", "unknown") != "unknown":
            given = part.get("resistance_tolerance")
            meant = None if given is None else quantity(given) / 100
            yield name, Value(quantity(part["resistance"]), meant)
        elif kind == "pot":
            yield name, Value(quantity(part["pot"]), spread)
            setting = part.get("setting", "fit")
            share = self.found.get(name) if setting == "fit" else quantity(setting) / 100
            yield f"{name} setting", Value(share, Fraction(0))
        elif kind in ("choke", "fuse"):
            yield name, Value(quantity(part.get("resistance", "0 ohm")), Fraction(0))
        elif kind == "lamp":
            yield name, Value(quantity(part["lamp"]) / quantity(part["current"]), Fraction(0))

    @cached_property
    def branches(self) -> list[Branch]:
        """What passes DC, switches aside."""
        return list(self._branches())

    def _branches(self) -> Iterator[Branch]:
        for name, part in self.parts.items():
            kind = kind_of(part)
            if kind == "resistor":
                fit = part["resistor"] == "fit"
                how, pieces = (Pieces("piece"), [0]) if fit else built(part["resistor"])
                ohms = _of_pieces(name, how, len(pieces))
                yield Branch(name, name, (f"{name}.1", f"{name}.2"), ohms)
            elif kind == "pot":
                low, high = _legs(name)
                yield Branch(f"{name} ccw", name, (f"{name}.ccw", f"{name}.wiper"), low)
                yield Branch(f"{name} cw", name, (f"{name}.wiper", f"{name}.cw"), high)
            elif kind in ("choke", "fuse", "lamp", "meter"):
                lugs = TERMINALS.get(kind, ("1", "2"))
                yield Branch(name, name, (f"{name}.{lugs[0]}", f"{name}.{lugs[1]}"), _own(name))

    @cached_property
    def sections(self) -> list[Section]:
        found = [_sections(n, p, self.controls) for n, p in self.parts.items() if "switch" in p]
        return [section for each in found for section in each]

    def contacts(
        self, groups: Sequence[tuple[str, tuple[str, ...]]], worn: bool = False
    ) -> Iterator[Branch]:
        """Groups of lugs closed together: a branch for two, a star for more, half to a lug."""
        for switch, lugs in groups:
            stated = self.parts[switch].get("contact_resistance")
            ohms = quantity(stated) if stated else Fraction(0)
            places = [f"{switch}.{lug}" for lug in lugs]
            name = "–".join(places)
            ends = [(places[0], places[1])] if len(lugs) == 2 else [(p, name) for p in places]
            for end in ends:
                each = name if len(lugs) == 2 else f"{end[0]} of {name}"
                share = ohms if len(lugs) == 2 else ohms / 2
                own = _contact(each, share, worn and not stated)
                yield Branch(each, name, end, own)

    def net(
        self,
        state: State,
        upset: Upset = SOUND,
        worn: bool = False,
        moving: Mapping[int, Sequence[tuple[str, ...]]] | None = None,
        leads: bool = False,
    ) -> Net:
        """The wiring in a state; sections that move close what ``moving`` says instead.

        With ``leads``, the copper of the wires counts.
        """
        groups: list[tuple[str, tuple[str, ...]]] = []
        for number, section in enumerate(self.sections):
            closed = section.closed.get(state[section.control], ())
            groups += [(section.switch, g) for g in (moving or {}).get(number, closed)]
        places = [frozenset(f"{s}.{lug}" for lug in lugs) for s, lugs in groups]
        left = [g for g, p in zip(groups, places, strict=True) if p != upset.contact]
        branches = [*self.branches, *self.contacts(left, worn)]
        gone = upset.opened or upset.wiper
        branches = [b for b in branches if b.part != gone]
        for part in filter(None, (upset.shorted, upset.wiper)):
            lugs = TERMINALS.get(kind_of(self.parts[part]), ("1", "2"))
            ends = f"{part}.{lugs[0]}", f"{part}.{lugs[-1]}"
            track = _own(part) if part == upset.wiper else _zero
            branches.append(Branch(f"across {part}", part, ends, track))
        if leads:
            branches += [_lead(n, self.wires[n], ohms) for n, ohms in self.copper.items()]
            return Net(branches, self.joined(self.copper))
        nodes = self.sound if upset == SOUND else self.joined([upset.wire])
        nodes.join(upset.joined)
        return Net(branches, nodes)


def _matches(state: State, when: Mapping[str, Any]) -> bool:
    return all(
        state[c] in (positions if isinstance(positions, list) else [positions])
        for c, positions in when.items()
    )


def applies(rule: Mapping[str, Any], state: State) -> bool:
    """Whether a rule speaks of a state."""
    return _matches(state, rule.get("when", {}))


def _own(name: str) -> Ohms:
    return lambda values: values[name]


def _lead(number: int, ends: Ends, ohms: Fraction) -> Branch:
    return Branch(f"wire {number}", f"wire {number}", ends, lambda _: ohms)


def _zero(_: Values) -> Fraction:
    return Fraction(0)


def _contact(name: str, ohms: Fraction, worn: bool) -> Ohms:
    return (lambda values: values.get(name, ohms)) if worn else (lambda _: ohms)


def _legs(name: str) -> tuple[Ohms, Ohms]:
    setting = f"{name} setting"
    return (
        lambda values: values[name] * values[setting],
        lambda values: values[name] * (1 - values[setting]),
    )


def _of_pieces(name: str, how: Pieces, count: int) -> Ohms:
    names = [f"{name}#{i}" for i in range(count)]
    return lambda values: how.ohms([values[piece] for piece in names])


LETTERS = list("ABCDEFGHJKLMNPQRSTUVWXYZ")
COUNTS = {"S": 1, "D": 2, "T": 3, "Q": 4}


def _sections(
    name: str, part: Mapping[str, Any], controls: Mapping[str, list[str]]
) -> Iterator[Section]:
    control = part["control"]
    if part["switch"] == "table":
        yield from _of_table(name, part)
        return
    form = re.fullmatch(r"([SDTQ]|[0-9]+)P([SDT]|[0-9]+)T", part["switch"])
    assert form
    poles, throws = (COUNTS.get(n) or int(n) for n in form.groups())
    rows = part.get("lugs") or [
        [letter, *(f"{letter}{n}" for n in range(1, throws + 1))] for letter in LETTERS[:poles]
    ]
    rows = list(rows.values()) if isinstance(rows, dict) else rows
    rows = rows if isinstance(rows[0], list) else [rows]
    stated = part.get("positions")
    at = stated or {p: str(n) for n, p in enumerate(controls[control], 1)}
    for row in rows:
        closed = {p: ((row[0], row[int(n)]),) for p, n in at.items() if n != "open"}
        yield Section(name, control, tuple(row), _timing(part, row, rows), closed)


def _of_table(name: str, part: Mapping[str, Any]) -> Iterator[Section]:
    linked = Joined()
    for groups in part["contacts"].values():
        for group in groups:
            linked.join(group)
    lugs = dict.fromkeys(lug for gs in part["contacts"].values() for g in gs for lug in g)
    for root in dict.fromkeys(map(linked, lugs)):
        mine = tuple(lug for lug in lugs if linked(lug) == root)
        closed = {
            position: tuple(tuple(g) for g in groups if linked(g[0]) == root)
            for position, groups in part["contacts"].items()
        }
        yield Section(name, part["control"], mine, _timing(part, mine, []), closed)


def _timing(part: Mapping[str, Any], lugs: Sequence[str], rows: Sequence[Sequence[str]]) -> str:
    stated = part.get("timing", "non-shorting")
    if isinstance(stated, str):
        return stated
    letters = [LETTERS[n] for n, row in enumerate(rows) if row is lugs]
    of = next((stated[lug] for lug in (*letters, *lugs) if lug in stated), "non-shorting")
    return str(of)
