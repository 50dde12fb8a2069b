"""Contacts as rungs: which of the other wiring's do what one of the original's did."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass

from rewire.draw.lugview.metering import apart_from_metering
from rewire.draw.marked.rails import Rails
from rewire.draw.marked.rungs import Mark, Rung, Side, same_part
from rewire.records.spec import Section, Spec, Switch, Wiring

APART = "▲"
"""Marks a contact that carries no part of the metering."""


@dataclass(frozen=True, slots=True)
class Contact:
    """Two lugs of a switch and the positions in which they are closed on each other."""

    switch: Switch
    pole: str
    lugs: tuple[str, str]
    positions: tuple[str, ...]
    rails: tuple[int | None, int | None]
    apart: bool
    """It carries no part of the metering, and joins two nets all the same."""

    @property
    def name(self) -> str:
        """``S3.A-A1``."""
        return f"{self.switch.name}.{self.lugs[0]}-{self.lugs[1]}"


def contact_rungs(spec: Spec, wiring: Wiring, rails: Rails) -> Iterator[Rung]:
    """Every contact of both wirings once: kept, replaced, removed or new."""
    old = list(_contacts(spec, spec.original, rails.was_on))
    new = list(_contacts(spec, wiring, rails.now_on))
    partner = _partners(old, new)
    heirs = set(partner.values())
    for number, contact in enumerate(old):
        heir = partner.get(number)
        yield _rung(contact, None if heir is None else new[heir], "removed")
    yield from (_rung(c, None, "new") for n, c in enumerate(new) if n not in heirs)


def _contacts(spec: Spec, wiring: Wiring, on: Mapping[str, int]) -> Iterator[Contact]:
    for part in spec.parts_of(wiring).values():
        if not isinstance(part, Switch):
            continue
        names = spec.controls[part.control].positions
        apart = apart_from_metering(spec, wiring, part)
        for number, section in enumerate(part.sections, 1):
            pole = section.pole or f"section {number}"
            for lugs, closed in _closed(section).items():
                one, two = (on.get(part.terminal(lug)) for lug in lugs)
                positions = tuple(names[at] for at in closed)
                idle = any(at in closed and set(lugs) <= set(group) for at, group in apart)
                joins = one is not None and two is not None and one != two
                yield Contact(part, pole, lugs, positions, (one, two), idle and joins)


def _closed(section: Section) -> dict[tuple[str, str], list[int]]:
    """Pairs of lugs → positions that close them; a group of more lugs is a star about its first."""
    pairs: dict[tuple[str, str], list[int]] = {}
    for position, groups in enumerate(section.groups):
        for group in groups:
            for lug in group[1:]:
                pairs.setdefault((group[0], lug), []).append(position)
    return pairs


def _partners(old: Sequence[Contact], new: Sequence[Contact]) -> dict[int, int]:
    """Contact of the original → one of the other wiring between the same rails, same positions."""
    partner: dict[int, int] = {}
    waiting: dict[object, list[int]] = {}
    for number, contact in enumerate(new):
        waiting.setdefault(_task(contact), []).append(number)
    for likeness in (3, 2, 1, 0):
        for number, contact in enumerate(old):
            if number in partner:
                continue
            among = waiting.get(_task(contact), [])
            fit = next((n for n in among if _likeness(contact, new[n]) >= likeness), None)
            if fit is not None:
                among.remove(fit)
                partner[number] = fit
    return partner


def _task(contact: Contact) -> object:
    """What a contact does; one that joins nothing is told by its own lugs."""
    if None in contact.rails or contact.rails[0] == contact.rails[1]:
        return (contact.name, contact.rails)
    return (contact.switch.control, frozenset(contact.rails), contact.positions)


def _likeness(one: Contact, other: Contact) -> int:
    return (
        int(one.lugs == other.lugs) + int(one.pole == other.pole)
        + int(one.switch.name == other.switch.name)
    )  # fmt: skip


def _rung(contact: Contact, heir: Contact | None, alone: Mark) -> Rung:
    """The rung of a contact alone, or of one and its heir."""
    here = heir or contact
    title = f"{contact.switch.name} pole {contact.pole}"
    mark: Mark
    if heir is None:
        mark = alone
    elif contact.name == heir.name:
        mark = "kept"
    else:
        mark = "replaced"
    was = _side(contact) if heir is not None or alone == "removed" else None
    now = _side(here) if heir is not None or alone == "new" else None
    other = f" → {heir.switch.name} pole {heir.pole}" if heir and mark == "replaced" else ""
    touched = heir is not None and not same_part(contact.switch, heir.switch)
    return Rung(
        key=f"{mark} {title}{other}", kind="contact", mark=mark, ends=here.rails,
        lugs=here.lugs, was=was, now=now, below=_below(here), group=f"{title}{other}",
        touched=touched,
    )  # fmt: skip


def _below(contact: Contact) -> str:
    return ", ".join(contact.positions) + (f" {APART}" if contact.apart else "")


def _side(contact: Contact) -> Side:
    one, two = contact.lugs
    return Side(f"contact:{contact.name}", contact.switch.name, f"{one}–{two}")
