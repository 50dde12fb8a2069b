"""What the new switch must tie, and what it must not, position by position.

With the old switch out, the rest of the wiring ties stubs among themselves in
some states (P). With it in, the states' ties were R. Whatever takes its place
must give, joined with P, exactly R: it may tie at a position only what R ties
in every state of that position, and must tie the rest of R.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass

from rewire.circuit.contacts import Contact, Link, contacts_of, links_of
from rewire.circuit.nets import Joiner
from rewire.circuit.states import LimitReached, States
from rewire.circuit.ways import Ways
from rewire.fit.stubs import Bare

Labels = tuple[int, ...]
"""Per stub the number of its group, counted in order of first stubs."""
MOST_STATES = 200_000


@dataclass(frozen=True, slots=True)
class Wanted:
    """One thing asked for at a position: with ``given`` joined already, ``whole`` must come out."""

    given: Labels
    whole: Labels

    def goals(self) -> list[tuple[int, ...]]:
        """Groups of given blobs that must be tied with each other, two or more each."""
        found: dict[int, dict[int, None]] = {}
        for blob, group in zip(self.given, self.whole, strict=True):
            found.setdefault(group, {})[blob] = None
        return [tuple(blobs) for blobs in found.values() if len(blobs) > 1]


@dataclass(frozen=True, slots=True)
class Demand:
    """What is asked of the contacts that are closed at one position of the control."""

    may: Labels
    """Stubs of different groups must not be tied by the switch."""
    wanted: tuple[Wanted, ...]
    """What must be brought about; what another thing asked for brings along is left out."""
    seen: tuple[Wanted, ...]
    """What there is in every state."""


def joined(count: int, groups: Iterable[Sequence[int]], labels: int) -> Labels:
    """Groups of the first ``labels`` of ``count`` nodes after joining ``groups``."""
    joiner = Joiner(count)
    for group in groups:
        joiner.join(group)
    return tuple(joiner.numbered()[:labels])


def outside_contacts(bare: Bare) -> tuple[Contact, ...]:
    """The contacts of every other switch, on nodes."""
    return tuple(
        Contact(
            c.switch, c.control, c.section, {g: bare.node_of_net[p] for g, p in c.place.items()}
        )
        for c in contacts_of(bare.spec, bare.wiring, bare.nets)
    )


def old_groups(bare: Bare, position: int) -> list[list[int]]:
    """What the old switch closes at a position, as nodes."""
    return [
        [bare.lug_node[lug] for lug in group]
        for section in bare.switch.sections
        for group in section.groups[position]
    ]


def demands_of(bare: Bare) -> tuple[Demand | None, ...]:
    """Per position of the control what is asked; None where it can never stand.

    Raises:
        LimitReached: too many states of other controls bear on the stubs.
    """
    contacts = outside_contacts(bare)
    links = Ways(tuple(links_of(contacts))).between(range(len(bare.stubs)))
    control = bare.spec.controls[bare.switch.control]
    found: list[dict[Wanted, None]] = [{} for _ in control.positions]
    old = [old_groups(bare, position) for position in range(len(control.positions))]
    for state in _states(bare, contacts, links):
        position = state[control.name]
        closed = [
            link.places for link in links if link.positions >> state[_control(link, contacts)] & 1
        ]
        found[position][_wanted(bare, closed, old[position])] = None
    return tuple(_demand(list(wanted), len(bare.stubs)) if wanted else None for wanted in found)


def _control(link: Link, contacts: Sequence[Contact]) -> str:
    return contacts[link.contact].control


def _states(
    bare: Bare, contacts: Sequence[Contact], links: Sequence[Link]
) -> Iterable[dict[str, int]]:
    states = States(bare.spec.controls, bare.spec.never)
    names = {bare.switch.control, *(_control(link, contacts) for link in links)}
    frame = states.frame(names, f"what {bare.switch.name} must tie")
    if frame.size > MOST_STATES:
        listed = ", ".join(sorted(names))
        raise LimitReached(
            f"what {bare.switch.name} must tie: the controls {listed} have {frame.size:,} "
            f"positions together, more than {MOST_STATES:,}; split the spec"
        )
    controls = bare.spec.controls
    for state in frame.states(states.possible(frame)):
        yield {name: controls[name].positions.index(at) for name, at in state.items()}


def _wanted(bare: Bare, closed: list[tuple[int, ...]], old: list[list[int]]) -> Wanted:
    count = bare.nodes + len(bare.switch.terminals)
    given = joined(count, closed, len(bare.stubs))
    return Wanted(given, joined(count, [*closed, *old], len(bare.stubs)))


def _demand(wanted: list[Wanted], stubs: int) -> Demand:
    keys = list(zip(*(one.whole for one in wanted), strict=True)) if stubs else []
    numbers: dict[tuple[int, ...], int] = {}
    may = tuple(numbers.setdefault(key, len(numbers)) for key in keys)
    asked = tuple(one for one in wanted if one.goals())
    needed = tuple(one for one in asked if not _covered(one, asked, stubs))
    return Demand(may, needed, tuple(wanted))


def _covered(one: Wanted, asked: Sequence[Wanted], stubs: int) -> bool:
    """Whether another thing asked for brings this one along: less is given, as much comes out."""
    for other in asked:
        if other == one:
            continue
        less = joined(2 * stubs, _pairs(other.given, one.given, stubs), stubs) == one.given
        more = joined(2 * stubs, _pairs(one.given, other.whole, stubs), stubs)
        enough = joined(2 * stubs, _pairs(more, one.whole, stubs), stubs) == more
        if less and enough:
            return True
    return False


def _pairs(one: Labels, other: Labels, stubs: int) -> list[tuple[int, int]]:
    """Pairs that join what either has in one group."""
    found = []
    for labels in (one, other):
        first: dict[int, int] = {}
        found += [(first.setdefault(label, stub), stub) for stub, label in enumerate(labels)]
    return [(a, b) for a, b in found if a != b and max(a, b) < stubs]
