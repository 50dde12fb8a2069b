"""States of the controls, as sets of bits.

A *frame* is the product of the positions of a few controls: the ones that can
matter to a question. A set of its states is one whole number, bit ``i`` for
state ``i``, so that "in which states are these two connected" is answered for all
states at once with ``&`` and ``|``.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator, Mapping
from dataclasses import dataclass, field
from math import prod

from rewire.circuit.graph import bits
from rewire.records.spec import Control, Partial

MOST_STATES = 1_000_000
"""A question about more states than this is refused by name."""


class LimitReached(Exception):
    """A question is larger than the stated limit; the text says which question and limit."""


@dataclass(slots=True)
class Frame:
    """The product of the positions of some controls, in the order of the file."""

    controls: tuple[Control, ...]
    size: int = field(init=False)
    full: int = field(init=False)
    _strides: dict[str, tuple[int, int]] = field(init=False)
    _masks: dict[tuple[str, int], int] = field(init=False, default_factory=dict)

    def __post_init__(self) -> None:
        self.size = prod(len(control.positions) for control in self.controls)
        self.full = (1 << self.size) - 1
        self._strides = {}
        stride = self.size
        for control in self.controls:
            stride //= len(control.positions)
            self._strides[control.name] = (stride, len(control.positions))

    def where(self, control: str, positions: int) -> int:
        """States in which ``control`` stands at one of ``positions`` (a set of bits)."""
        key = (control, positions)
        mask = self._masks.get(key)
        if mask is None:
            mask = self._masks[key] = self._spread(control, positions)
        return mask

    def _spread(self, control: str, positions: int) -> int:
        stride, count = self._strides[control]
        run = (1 << stride) - 1
        mask = 0
        for position in range(count):
            if positions >> position & 1:
                mask |= run << (position * stride)
        width = stride * count
        while width < self.size:
            mask |= mask << width
            width *= 2
        return mask & self.full

    def states(self, mask: int) -> Iterator[dict[str, str]]:
        """The states of a set, in order of travel, the file's last control moving fastest.

        ``where`` gives the first control the longest stride, so rising bits are that order.
        """
        yield from map(self.state, bits(mask))

    def state(self, number: int) -> dict[str, str]:
        """One state by its bit's number."""
        found = {}
        for control in self.controls:
            stride, count = self._strides[control.name]
            found[control.name] = control.positions[number // stride % count]
        return found

    def number(self, state: Mapping[str, str]) -> int:
        """The bit of one state; controls of other frames are passed over."""
        return sum(
            self._strides[c.name][0] * c.positions.index(state[c.name]) for c in self.controls
        )


@dataclass(slots=True)
class States:
    """The controls of a spec and the states that cannot occur."""

    controls: Mapping[str, Control]
    never: tuple[Mapping[str, str], ...]
    _frames: dict[frozenset[str], Frame] = field(default_factory=dict)
    _possible: dict[frozenset[str], int] = field(default_factory=dict)
    _possible_steps: dict[tuple[frozenset[str], str, int, int], int] = field(default_factory=dict)
    _clusters: dict[str, tuple[int, int]] = field(default_factory=dict)
    """Per control the number of its cluster, and that cluster's states."""
    _total: int | None = None

    def frame(self, names: Iterable[str], asking: str = "this question") -> Frame:
        """The frame of some controls; ``LimitReached`` of more than a million states.

        ``asking`` says in it what was asked.
        """
        key = frozenset(names)
        frame = self._frames.get(key)
        if frame is None:
            controls = tuple(c for name, c in self.controls.items() if name in key)
            _refuse_large(controls, asking)
            frame = self._frames[key] = Frame(controls)
        return frame

    def possible(self, frame: Frame) -> int:
        """States of a frame that some full state outside ``never`` shows."""
        key = frozenset(control.name for control in frame.controls)
        mask = self._possible.get(key)
        if mask is None:
            mask = self._possible[key] = self._project(frame, self._allowed)
        return mask

    def possible_steps(self, frame: Frame, control: str, before: int, after: int) -> int:
        """States of the others (``frame``) in which a step has both ends outside ``never``."""
        if not self.never:
            return frame.full
        key = (frozenset(c.name for c in frame.controls), control, before, after)
        mask = self._possible_steps.get(key)
        if mask is not None:
            return mask

        def both(wide: Frame) -> int:
            return self._allowed_at(wide, control, before) & self._allowed_at(wide, control, after)

        mask = self._possible_steps[key] = self._project(frame, both, moving=control)
        return mask

    def _project(
        self, frame: Frame, allowed: Callable[[Frame], int], moving: str | None = None
    ) -> int:
        """Ask on the frame widened by the controls ``never`` links to it, then narrow."""
        if not self.never:
            return frame.full
        names = {control.name for control in frame.controls}
        if moving is not None:
            names.add(moving)
        wide = self.frame(self.linked(names) - {moving}, "the states ruled out by 'never'")
        return narrow(wide, allowed(wide), frame)

    def linked(self, names: Iterable[str]) -> set[str]:
        """``names`` and every control that items of ``never`` link to them."""
        linked = set(names)
        items = [set(item) for item in self.never]
        growing = True
        while growing:
            growing = False
            for item in items:
                if item & linked and not item <= linked:
                    linked |= item
                    growing = True
        return linked

    def _allowed(self, wide: Frame) -> int:
        return self._allowed_at(wide, None, 0)

    def _allowed_at(self, wide: Frame, control: str | None, position: int) -> int:
        names = {c.name for c in wide.controls}
        mask = wide.full
        for item in self.never:
            here = dict(item)
            elsewhere = (
                control is not None
                and control in here
                and here.pop(control) != self.controls[control].positions[position]
            )
            if elsewhere or not here.keys() <= names:
                continue
            ruled_out = wide.full
            for name, at in here.items():
                ruled_out &= wide.where(name, 1 << self.controls[name].positions.index(at))
            mask &= ~ruled_out
        return mask

    def count(self, frame: Frame, mask: int) -> int:
        """Full states, outside ``never``, that a set of partial states means."""
        names = self.linked({control.name for control in frame.controls})
        wide = self.frame(names, "the states ruled out by 'never'")
        count = (widen(frame, mask, wide) & self._allowed(wide)).bit_count()
        rest = self.total()
        if not count or not rest:
            return 0
        for _, size in {self._clusters[name] for name in names}:
            rest //= size
        return count * rest

    def total(self) -> int:
        """Number of full states that can occur."""
        if self._total is None:
            self._total = 1
            for number, (names, size) in enumerate(self._count_clusters()):
                self._clusters.update(dict.fromkeys(names, (number, size)))
                self._total *= size
        return self._total

    def _count_clusters(self) -> Iterator[tuple[set[str], int]]:
        """Controls that ``never`` links, with the number of their states that can occur."""
        waiting = set(self.controls)
        while waiting:
            names = self.linked({next(iter(waiting))})
            frame = self.frame(names, "the states ruled out by 'never'")
            yield names, self._allowed(frame).bit_count()
            waiting -= names

    def selected(self, frame: Frame, when: Partial) -> int:
        """States of a frame that ``when`` covers; its other controls are left open."""
        mask = frame.full
        for name, positions in when.items():
            if any(control.name == name for control in frame.controls):
                mask &= frame.where(name, position_bits(self.controls[name], positions))
        return mask


def _refuse_large(controls: tuple[Control, ...], asking: str) -> None:
    size = prod(len(control.positions) for control in controls)
    if size <= MOST_STATES:
        return
    names = ", ".join(control.name for control in controls)
    raise LimitReached(
        f"{asking}: the controls {names} have {size:,} positions together, "
        f"more than {MOST_STATES:,}; split the spec so that fewer of them meet"
    )


def position_bits(control: Control, positions: Iterable[str]) -> int:
    """Positions by name as a set of bits; ``ValueError`` for one that the control has not."""
    bits = 0
    for position in positions:
        bits |= 1 << control.positions.index(position)
    return bits


def widen(frame: Frame, mask: int, wide: Frame) -> int:
    """A set of states of ``frame``, said in a frame with more controls.

    Controls are let in one by one, the one that moves fastest first: as a run of states
    below it stands, it stands at every position. About as many steps as ``frame`` has states.
    """
    if frame.controls == wide.controls or not mask:
        return mask
    if mask == frame.full:
        return wide.full
    inside = {control.name for control in frame.controls}
    below = 1
    for control in reversed(wide.controls):
        count = len(control.positions)
        if control.name not in inside:
            mask = _repeated(mask, below, count)
        below *= count
    return mask


def _repeated(mask: int, run: int, times: int) -> int:
    """Each ``run`` bits of a set of bits, so many times."""
    once = (1 << run) - 1
    copies = ((1 << run * times) - 1) // once
    found = place = 0
    while mask:
        found |= (mask & once) * copies << place
        mask >>= run
        place += run * times
    return found


def narrow(wide: Frame, mask: int, frame: Frame) -> int:
    """States of ``frame`` that some state of a set in a wider frame shows."""
    if frame.controls == wide.controls or not mask:
        return mask
    if mask == wide.full:
        return frame.full
    inside = {control.name for control in frame.controls}
    below = 1
    for control in reversed(wide.controls):
        count = len(control.positions)
        if control.name in inside:
            below *= count
        else:
            mask = _folded(mask, below, count)
    return mask


def _folded(mask: int, run: int, times: int) -> int:
    """Each ``times`` runs of bits laid over each other."""
    once = (1 << run) - 1
    found = place = 0
    while mask:
        for _ in range(times):
            found |= (mask & once) << place
            mask >>= run
        place += run
    return found
