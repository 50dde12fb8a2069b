"""What changes at a part or point, per wiring, in the words of the table of notes."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass

from rewire.circuit.nets import joints_of
from rewire.compare.turned import roles_between
from rewire.draw.marked.rungs import heirs_of, same_switch
from rewire.draw.marked.values import Chosen, value_of
from rewire.draw.tabled import Piece
from rewire.records.spec import Part, Spec, Switch, Wiring

_MOST_LUGS = 60
"""Lugs of one part that are listed."""


@dataclass(frozen=True, slots=True)
class Sight:
    """One wiring as a note looks at it."""

    spec: Spec
    wiring: Wiring
    parts: Mapping[str, Part]
    joined: Mapping[str, Sequence[str]]
    """Place → what a wire, a net or a lead joins it to."""
    chosen: Chosen

    def landing(self, place: str) -> str:
        """What a terminal or point is joined to, in words."""
        return ", ".join(self.joined.get(place, ())) or "nothing"


def sight_of(spec: Spec, wiring: Wiring, chosen: Chosen) -> Sight:
    """A wiring ready to be asked about many parts."""
    found: dict[str, dict[str, None]] = {}
    for joint in joints_of(spec, wiring):
        for place in joint:
            found.setdefault(place, {}).update(dict.fromkeys(_others(spec, joint, place)))
    joined = {place: sorted(others) for place, others in found.items()}
    return Sight(spec, wiring, spec.parts_of(wiring), joined, chosen)


def _others(spec: Spec, joint: Sequence[str], place: str) -> Iterator[str]:
    """What a joint joins a place to: of a net with points in it, the points say enough."""
    others = [other for other in joint if other != place]
    points = [other for other in others if other in spec.points]
    yield from points if points and place not in spec.points else others


def what_it_was(was: Sight, about: str) -> Iterator[Piece]:
    """A part or point in the original: its value, and what its lugs are joined to."""
    if about in was.spec.points:
        yield Piece(was.landing(about))
        return
    part = was.parts.get(about)
    if part is None:
        yield Piece("not there")
        return
    yield Piece(f"{about} {value_of(part, {})}".rstrip(), f"was:{about}", bold=True)
    for lug in part.terminals[:_MOST_LUGS]:
        yield Piece(f"{lug}: {was.landing(part.terminal(lug))}")


def what_changes(was: Sight, now: Sight, about: str) -> Iterator[Piece]:
    """What becomes of it in another wiring, its name in front."""
    for number, (text, changed) in enumerate(_told(was, now, about)):
        head = f"{now.wiring.name}: " if number == 0 else ""
        yield Piece(f"{head}{text}", f"told:{now.wiring.name}:{about}", changed)


Said = tuple[str, bool]
"""Words, and whether they are of a change."""


def _told(was: Sight, now: Sight, about: str) -> Iterator[Said]:
    if about in was.spec.points:
        old, new = was.landing(about), now.landing(about)
        yield (f"{old} → {new}", True) if old != new else ("stays as it is", False)
    elif about not in was.parts:
        yield from _of_new(now, now.parts.get(about))
    elif isinstance(part := was.parts[about], Switch):
        yield from _of_switch(was, now, part)
    else:
        yield from _of_part(was, now, part)


def _of_new(now: Sight, part: Part | None) -> Iterator[Said]:
    if part is None:
        yield "not there", False
        return
    yield f"new: {part.name} {value_of(part, now.chosen)}".rstrip(), True
    for lug in part.terminals[:_MOST_LUGS]:
        yield f"{lug}: {now.landing(part.terminal(lug))}", True


def _of_part(was: Sight, now: Sight, part: Part) -> Iterator[Said]:
    heir = now.parts.get(heirs_of(now.spec, now.wiring).get(part.name, ""))
    if heir is None:
        yield _gone(now, part), True
        return
    old, new = value_of(part, {}), value_of(heir, now.chosen)
    same = part.name == heir.name and old == new
    if not same:
        yield f"{part.name} {old} → {heir.name} {new}", True
    moves = list(_moves(was, now, part, heir))
    if same and not moves:
        yield "stays as it is", False
    yield from ((move, True) for move in moves)


def _gone(now: Sight, part: Part) -> str:
    """Whole, or with others in its place terminal by terminal."""
    takers = roles_between(now.spec, now.wiring).takers(part)
    return f"goes; in its place {' and '.join(takers)}" if takers else "goes"


def _of_switch(was: Sight, now: Sight, switch: Switch) -> Iterator[Said]:
    """Another switch on the same control, or lug by lug what is soldered on otherwise."""
    same = now.parts.get(switch.name)
    others = (
        part for name, part in now.parts.items()
        if isinstance(part, Switch) and part.control == switch.control and name not in was.parts
    )  # fmt: skip
    heir = same if isinstance(same, Switch) else next(others, None)
    if heir is None:
        yield "goes", True
        return
    alike = same_switch(switch, heir)
    if not alike:
        yield f"{switch.name} {switch.form} → {heir.name} {heir.form}", True
    if heir.name != switch.name:
        yield "lug by lug in the marked-up view and in the lug view", False
        return
    moves = list(_moves(was, now, switch, heir))
    yield from ((move, True) for move in moves)
    if alike and not moves:
        yield "stays as it is", False


def _moves(was: Sight, now: Sight, part: Part, heir: Part) -> Iterator[str]:
    """Lugs that are soldered elsewhere than before."""
    claimed = heir.replaces or {}
    pairs = [(place, heir.terminal(lug)) for lug, place in claimed.items()]
    pairs = pairs or [(part.terminal(lug), part.terminal(lug)) for lug in part.terminals]
    changed = []
    for old, new in pairs:
        before, after = was.landing(old), now.landing(new)
        if before != after:
            named = old if old == new else f"{old} → {new}"
            changed.append(f"{named}: {before} → {after}")
    yield from changed[:_MOST_LUGS]
    if len(changed) > _MOST_LUGS:
        yield f"and {len(changed) - _MOST_LUGS} more lugs, see the marked-up view"
