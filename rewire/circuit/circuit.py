"""A wiring as a circuit: nets, contacts, lugs; each worked out once, when first asked for."""

from __future__ import annotations

from collections.abc import Collection, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field, replace
from functools import cached_property, lru_cache

from rewire.circuit.graph import (
    ALWAYS,
    NO_SECTION,
    BlockTree,
    Ends,
    Joiner,
    Link,
    Places,
    by_first,
)
from rewire.records.part import Part, Section
from rewire.records.spec import Control, Spec, Wiring
from rewire.records.switches import Positions, Switch, lug_positions

Groups = tuple[tuple[str, ...], ...]
"""Groups of lugs; those of one group are closed on each other."""


@dataclass(frozen=True, slots=True)
class Case:
    """A wiring of a spec; the same records are the same case."""

    spec: Spec
    wiring: Wiring

    def __hash__(self) -> int:
        return hash((id(self.spec), id(self.wiring)))

    def __eq__(self, other: object) -> bool:
        return isinstance(other, Case) and self.spec is other.spec and self.wiring is other.wiring


def circuit_of(spec: Spec, wiring: Wiring) -> Circuit:
    """The circuit of a wiring. The same records give the same circuit; nothing is built twice."""
    return _circuit_of(Case(spec, wiring))


@lru_cache(maxsize=64)
def _circuit_of(case: Case) -> Circuit:
    return Circuit(case.spec, case.wiring)


@dataclass(frozen=True, slots=True)
class Joint:
    """Terminals that one thing joins: a wire, a net list, a lead, a contact, a part."""

    members: tuple[str, ...]
    by: str | None = None
    """Its name, such as ``wire W3``; None for net lists, leads, contacts and parts."""
    control: str | None = None
    positions: int = ALWAYS
    passed: tuple[int, ...] = ()
    """Moves that close it on their way, by their two positions (a set of bits each)."""
    part: str | None = None


@dataclass(frozen=True, slots=True)
class Nets:
    """What is connected in every position of the switches."""

    of: Mapping[str, int]
    """Terminal or point → number of its net."""
    members: tuple[tuple[str, ...], ...]
    """Per net its terminals in order of name."""


def gather(names: Sequence[str], joints: Iterable[Sequence[str]]) -> Nets:
    """Join names as joints say; near-linear in both.

    >>> gather(["A", "B", "C"], [("C", "A")]).members
    (('A', 'C'), ('B',))
    """
    index = {name: number for number, name in enumerate(names)}
    joiner = Joiner(len(names))
    for joint in joints:
        joiner.join([index[name] for name in joint])
    numbers = joiner.numbered()
    members: list[list[str]] = [[] for _ in range(max(numbers, default=-1) + 1)]
    for name, number in zip(names, numbers, strict=True):
        members[number].append(name)
    return Nets(
        dict(zip(names, numbers, strict=True)), tuple(tuple(sorted(net)) for net in members)
    )


@dataclass(frozen=True)
class Contact:
    """One section of one switch, with the place every lug of it is on."""

    switch: str
    control: str
    section: Section
    place: Mapping[str, int]
    passing: Mapping[Ends, Groups] = field(default_factory=dict)
    """By the two positions of a move, the earlier first: groups closed for a moment on the way,
    in the order they are met."""

    def moves(self, before: int, after: int) -> bool:
        """Whether its contacts differ between two positions of its control."""
        return self.closed[before] != self.closed[after]

    @cached_property
    def closed(self) -> tuple[frozenset[frozenset[str]], ...]:
        """Per position the groups of lugs that are closed, whatever their order."""
        return tuple(frozenset(map(frozenset, groups)) for groups in self.section.groups)

    def places(self, lugs: Iterable[str]) -> Places:
        """The different places that some lugs are on, in the order of the lugs."""
        return tuple(dict.fromkeys(self.place[lug] for lug in lugs))

    def terminals(self, lugs: Iterable[str]) -> tuple[str, ...]:
        """Some of its lugs by their full names."""
        return tuple(f"{self.switch}.{lug}" for lug in lugs)

    @cached_property
    def lugs_in_play(self) -> tuple[str, ...]:
        """Lugs that some position, or some move, closes on another lug, by name."""
        closed = (*self.section.groups, *self.passing.values())
        return tuple(sorted({lug for at in closed for group in at for lug in group}))

    def closing(self, move: Ends | None = None) -> frozenset[int]:
        """Places with a lug that some position closes on another lug, or a move on its way."""
        passed = self.passing.get(move, ()) if move else ()
        return self._closing.union(self.place[lug] for group in passed for lug in group)

    @cached_property
    def _closing(self) -> frozenset[int]:
        groups = (group for at in self.section.groups for group in at)
        return frozenset(self.place[lug] for group in groups for lug in group)

    def held(self, before: int, after: int) -> Groups:
        """Groups of lugs that are closed both before and after a step.

        A non-shorting section holds these while it moves: a long blade never lets go.
        """
        both = (a & b for a in self.closed[before] for b in self.closed[after])
        return tuple(tuple(sorted(group)) for group in both if len(group) > 1)

    @cached_property
    def groups(self) -> Mapping[tuple[str, ...], tuple[int, frozenset[Ends]]]:
        """Each different group of lugs: the positions, and the moves in passing, that close it."""
        positions, moves = enumerate(self.section.groups), self.passing.items()
        closed = by_first((tuple(sorted(g)), 1 << at) for at, groups in positions for g in groups)
        passed = by_first((tuple(sorted(g)), ends) for ends, groups in moves for g in groups)
        return {
            lugs: (sum({*closed.get(lugs, ())}), frozenset(passed.get(lugs, ())))
            for lugs in {**closed, **passed}
        }

    def links(self, number: int) -> Iterator[Link]:
        """One link for each different group of its lugs that are not all on one place."""
        for lugs, (positions, passed) in self.groups.items():
            places = self.places(lugs)
            if len(places) > 1:
                yield Link(number, lugs, places, positions, passed, self.control)


@dataclass(frozen=True)
class ContactGraph:
    """Contacts on places, and the links that they close."""

    contacts: tuple[Contact, ...]
    bars: tuple[Link, ...] = ()
    """Parts that pass DC, as links that never open."""

    @cached_property
    def links(self) -> tuple[Link, ...]:
        """What the contacts close."""
        return tuple(link for n, contact in enumerate(self.contacts) for link in contact.links(n))

    @cached_property
    def tree(self) -> BlockTree:
        """The blocks of the contacts alone."""
        return BlockTree(self.links)

    @cached_property
    def tree_with_bars(self) -> BlockTree:
        """The blocks of contacts and parts."""
        return BlockTree((*self.links, *self.bars)) if self.bars else self.tree

    @cached_property
    def links_by_control(self) -> Mapping[str, Sequence[Link]]:
        """Links by the control that moves them."""
        return by_first((link.control, link) for link in self.links)

    @cached_property
    def contacts_by_control(self) -> Mapping[str, Sequence[Contact]]:
        """Contacts by the control that moves them."""
        return by_first((contact.control, contact) for contact in self.contacts)

    @cached_property
    def blocks_by_control(self) -> Mapping[str, frozenset[int]]:
        """Blocks with something that a control moves."""
        of = self.tree.block_of
        return {name: frozenset(map(of, links)) for name, links in self.links_by_control.items()}

    def blocks_of(self, contacts: Collection[int]) -> frozenset[int]:
        """Blocks in which some contacts, by number, link something."""
        return frozenset(self.tree.block_of(k) for k in self.links if k.contact in contacts)

    @cached_property
    def links_at(self) -> Mapping[int, Sequence[Link]]:
        """Links by place."""
        return by_first((place, link) for link in self.links for place in link.places)

    @cached_property
    def lugs_at(self) -> Mapping[int, frozenset[str]]:
        """Per place its lugs that some position, or some move, closes on another lug."""
        lugs = by_first(
            (contact.place[lug], f"{contact.switch}.{lug}")
            for contact in self.contacts
            for lug in contact.lugs_in_play
        )
        return {place: frozenset(names) for place, names in lugs.items()}

    def moved_to(self, places: Sequence[int]) -> ContactGraph:
        """The same with every place renumbered; bars that are on one place then are left out."""
        contacts = (
            replace(c, place={lug: places[place] for lug, place in c.place.items()})
            for c in self.contacts
        )
        bars = (
            replace(bar, places=tuple(dict.fromkeys(places[p] for p in bar.places)))
            for bar in self.bars
        )
        return ContactGraph(tuple(contacts), tuple(bar for bar in bars if len(bar.places) > 1))


@dataclass(frozen=True, eq=False)
class Circuit:
    """One wiring, seen as a circuit."""

    spec: Spec
    wiring: Wiring

    @cached_property
    def parts(self) -> Mapping[str, Part]:
        """Every part by its name, the ones that stay in all wirings first."""
        return self.spec.parts_of(self.wiring)

    @cached_property
    def switches(self) -> tuple[Switch, ...]:
        """The switches, in the order of ``parts``."""
        return tuple(self.spec.all_of(Switch, self.wiring).values())

    @cached_property
    def terminals(self) -> tuple[str, ...]:
        """All points and terminals that there are."""
        return (
            *self.spec.points,
            *(t for part in self.parts.values() for t in part.full_terminals),
        )

    @cached_property
    def _always(self) -> tuple[Joint, ...]:
        """Leads, net lists and wires."""
        on_leads = [part for part in self.parts.values() if part.between]
        leads = (zip(p.full_terminals, p.between or (), strict=True) for p in on_leads)
        return (
            *(Joint(ends) for pairs in leads for ends in pairs),
            *(Joint(net.members) for net in self.wiring.nets),
            *(Joint(wire.ends, wire.named.rstrip()) for wire in self.wiring.wires),
        )

    @cached_property
    def joints(self) -> tuple[Joint, ...]:
        """All that joins terminals: leads, net lists, wires, contacts, parts that pass DC."""
        closed = (joint for contact in self.contacts for joint in _closed(contact))
        parts = (Joint(p.full_terminals, part=p.name) for p in self.parts.values() if p.passes_dc)
        return (*self._always, *closed, *parts)

    @cached_property
    def soldered(self) -> tuple[tuple[str, ...], ...]:
        """Terminals that a lead, a net list or a wire joins, one group for each of these."""
        return tuple(joint.members for joint in self._always)

    @cached_property
    def nets(self) -> Nets:
        """What is joined wherever the switches stand."""
        return gather(self.terminals, self.soldered)

    @cached_property
    def bare(self) -> frozenset[str]:
        """Lugs of switches and tags of strips with nothing soldered to them."""
        lugs = {t for part in self.parts.values() if not part.has_role for t in part.full_terminals}
        return frozenset(lugs.difference(*self.soldered))

    @cached_property
    def contacts(self) -> tuple[Contact, ...]:
        """Every section of every switch on its nets, in order of the switches' names."""
        return tuple(
            _contact(switch, section, self.spec.controls[switch.control], self.nets)
            for switch in sorted(self.switches, key=lambda s: s.name)
            for section in switch.sections
        )

    @cached_property
    def graph(self) -> ContactGraph:
        """The contacts on nets."""
        return ContactGraph(self.contacts)

    @property
    def links(self) -> tuple[Link, ...]:
        """Nets that one section closes on each other, with the positions in which it does."""
        return self.graph.links

    def bars(self, parts: Iterable[Part]) -> Iterator[Link]:
        """Parts that pass DC as links between the nets of their terminals."""
        for part in parts:
            places = tuple(dict.fromkeys(self.nets.of[t] for t in part.full_terminals))
            if part.passes_dc and len(places) > 1:
                yield Link(NO_SECTION, (part.name,), places, ALWAYS)

    @cached_property
    def flow_places(self) -> Sequence[int]:
        """Per net its number when nets between which current can always flow are one.

        It can over parts, and over contacts that are closed in every position.
        """
        joiner = Joiner(len(self.nets.members))
        for bar in self.bars(self.parts.values()):
            joiner.join(bar.places)
        for link in self.links:
            if link.positions == (1 << len(self.spec.controls[link.control].positions)) - 1:
                joiner.join(link.places)
        return joiner.numbered()

    @cached_property
    def flow_graph(self) -> ContactGraph:
        """The contacts on ``flow_places``."""
        return self.graph.moved_to(self.flow_places)

    @cached_property
    def positions(self) -> Mapping[str, Positions]:
        """Per switch where its lugs sit, seen from behind."""
        return {switch.name: lug_positions(switch) for switch in self.switches}


def _contact(switch: Switch, section: Section, control: Control, nets: Nets) -> Contact:
    passing = _passing(switch, section, control)
    passed = (lug for groups in passing.values() for group in groups for lug in group)
    lugs = dict.fromkeys((*section.lugs, *passed))
    place = {lug: nets.of[switch.terminal(lug)] for lug in lugs}
    return Contact(switch.name, switch.control, section, place, passing)


def _passing(switch: Switch, section: Section, control: Control) -> dict[Ends, Groups]:
    """Per move the contacts that a wiper closes on its way from a throw to one that is not next."""
    if switch.style not in ("rotary", "slide"):
        return {}
    return {
        (before, after): tuple((pole[0], pole[throw]) for throw in passed)
        for pole in switch.poles
        if pole[0] in section.lugs
        for before, after in control.steps()
        if (passed := throws_passed(switch, control, before, after))
    }


def throws_passed(switch: Switch, control: Control, before: int, after: int) -> list[int]:
    """Throws between those of two positions, in the order in which they are passed.

    Round the end, from the last position to the first, the knob goes on the other way round.
    """
    if switch.throw_at is None or switch.throws is None:
        return []
    one, other = switch.throw_at[before], switch.throw_at[after]
    if one is None or other is None or one == other:
        return []
    up = list(range(one + 1, other)) or list(range(one - 1, other, -1))
    if not control.goes_round(before, after):
        return up
    on = range(1, switch.throws + 1)
    outside = [throw for throw in on if throw > max(one, other)]
    outside += [throw for throw in on if throw < min(one, other)]
    return outside if one > other else outside[::-1]


def _closed(contact: Contact) -> Iterator[Joint]:
    for lugs, (positions, _) in contact.groups.items():
        if positions:
            yield Joint(contact.terminals(lugs), None, contact.control, positions)
    for (before, after), groups in contact.passing.items():
        move = (1 << before | 1 << after,)
        yield from (Joint(contact.terminals(g), None, contact.control, 0, move) for g in groups)
