"""States of the controls, as sets of bits.

A *frame* is the product of the positions of a few controls: the ones that can
matter to a question. A set of its states is one whole number, bit ``i`` for
state ``i``, so that "in which states are these two connected" is answered for all
states at once with ``&`` and ``|``.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass, field
from functools import cached_property
from math import prod
from typing import TYPE_CHECKING

from rewire.circuit.graph import bits

if TYPE_CHECKING:
    from rewire.records.spec import Control, Partial

MOST_STATES = 1_000_000
"""A question about more states than this is refused by name."""
_NEVER = "the states ruled out by 'never'"


class LimitReached(Exception):
    """A question is larger than the stated limit; the text says which question and limit."""


@dataclass(eq=False)
class Frame:
    """The product of the positions of some controls, in the order of the file."""

    controls: tuple[Control, ...]
    size: int = field(init=False)
    full: int = field(init=False)
    _strides: dict[str, tuple[int, int]] = field(init=False, default_factory=dict)
    _masks: dict[tuple[str, int], int] = field(init=False, default_factory=dict)

    def __post_init__(self) -> None:
        stride = self.size = prod(len(control.positions) for control in self.controls)
        self.full = (1 << self.size) - 1
        for control in self.controls:
            stride //= len(control.positions)
            self._strides[control.name] = (stride, len(control.positions))

    @cached_property
    def names(self) -> frozenset[str]:
        """Of its controls."""
        return frozenset(self._strides)

    def where(self, control: str, positions: int) -> int:
        """States in which ``control`` stands at one of ``positions`` (a set of bits)."""
        mask = self._masks.get((control, positions))
        if mask is None:
            stride, count = self._strides[control]
            run = (1 << stride) - 1
            mask = sum(run << at * stride for at in range(count) if positions >> at & 1)
            width = stride * count
            while width < self.size:
                mask |= mask << width
                width *= 2
            mask = self._masks[control, positions] = mask & self.full
        return mask

    def states(self, mask: int) -> Iterator[dict[str, str]]:
        """The states of a set, in order of travel, the file's last control moving fastest.

        ``where`` gives the first control the longest stride, so rising bits are that order.
        """
        for number in bits(mask):
            found = {}
            for control in self.controls:
                stride, count = self._strides[control.name]
                found[control.name] = control.positions[number // stride % count]
            yield found

    def number(self, state: Mapping[str, str]) -> int:
        """The bit of one state; controls of other frames are passed over."""
        return sum(
            self._strides[c.name][0] * c.positions.index(state[c.name]) for c in self.controls
        )


class States:
    """The controls of a spec and the states that cannot occur."""

    def __init__(
        self, controls: Mapping[str, Control], never: tuple[Mapping[str, str], ...]
    ) -> None:
        self.controls, self.never = controls, never
        self._frames: dict[frozenset[str], Frame] = {}
        self._possible: dict[tuple[object, ...], int] = {}

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
        return self._project(frame, "", ())

    def possible_steps(self, frame: Frame, control: str, before: int, after: int) -> int:
        """States of the others (``frame``) in which a step has both ends outside ``never``."""
        return self._project(frame, control, (before, after))

    def _project(self, frame: Frame, control: str, ends: tuple[int, ...]) -> int:
        """Ask on the frame widened by the controls ``never`` links to it, then narrow."""
        if not self.never:
            return frame.full
        key = frame.names, control, ends
        if key not in self._possible:
            moved = {control} if control else set[str]()
            wide = self.frame(self.linked(frame.names | moved) - moved, _NEVER)
            mask = self._allowed(wide, {})
            for end in ends:
                mask &= self._allowed(wide, {control: self.controls[control].positions[end]})
            self._possible[key] = narrow(wide, mask, frame)
        return self._possible[key]

    def _allowed(self, wide: Frame, standing: Mapping[str, str]) -> int:
        """States outside ``never``, with a control that the frame has not standing somewhere."""
        mask = wide.full
        for item in self.never:
            here = {name: at for name, at in item.items() if standing.get(name) != at}
            if here.keys() <= wide.names:
                ruled_out = wide.full
                for name, at in here.items():
                    ruled_out &= wide.where(name, 1 << self.controls[name].positions.index(at))
                mask &= ~ruled_out
        return mask

    def linked(self, names: Iterable[str]) -> set[str]:
        """``names`` and every control that items of ``never`` link to them."""
        linked, size = set(names), -1
        while len(linked) > size:
            size = len(linked)
            linked.update(*(item for item in self.never if not linked.isdisjoint(item)))
        return linked

    def count(self, frame: Frame, mask: int) -> int:
        """Full states, outside ``never``, that a set of partial states means."""
        names = self.linked(frame.names)
        wide = self.frame(names, _NEVER)
        count = (widen(frame, mask, wide) & self._allowed(wide, {})).bit_count()
        return count * prod(size for cluster, size in self._clusters if cluster.isdisjoint(names))

    def total(self) -> int:
        """Number of full states that can occur."""
        return prod(size for _, size in self._clusters)

    @cached_property
    def _clusters(self) -> list[tuple[set[str], int]]:
        """Controls that ``never`` links, with the number of their states that can occur."""
        clusters: dict[frozenset[str], int] = {}
        for name in self.controls:
            names = frozenset(self.linked({name}))
            if names not in clusters:
                clusters[names] = self._allowed(self.frame(names, _NEVER), {}).bit_count()
        return [(set(names), size) for names, size in clusters.items()]

    def selected(self, frame: Frame, when: Partial) -> int:
        """States of a frame that ``when`` covers; its other controls are left open."""
        mask = frame.full
        for name in frame.names & when.keys():
            positions = self.controls[name].positions
            mask &= frame.where(name, sum(1 << positions.index(at) for at in {*when[name]}))
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


def widen(frame: Frame, mask: int, wide: Frame) -> int:
    """A set of states of ``frame``, said in a frame with more controls.

    Controls are let in one by one, the one that moves fastest first: as a run of states
    below it stands, it stands at every position. About as many steps as ``frame`` has states.
    """
    if frame.controls == wide.controls or not mask:
        return mask
    if mask == frame.full:
        return wide.full
    below = 1
    for control in reversed(wide.controls):
        count = len(control.positions)
        if control.name not in frame.names:
            copies = ((1 << below * count) - 1) // ((1 << below) - 1)
            mask = sum(run * copies << n * below * count for n, run in _runs(mask, below))
        below *= count
    return mask


def narrow(wide: Frame, mask: int, frame: Frame) -> int:
    """States of ``frame`` that some state of a set in a wider frame shows."""
    if frame.controls == wide.controls or not mask:
        return mask
    if mask == wide.full:
        return frame.full
    below = 1
    for control in reversed(wide.controls):
        count = len(control.positions)
        if control.name in frame.names:
            below *= count
            continue
        found = 0
        for number, run in _runs(mask, below):
            found |= run << number // count * below
        mask = found
    return mask


def _runs(mask: int, width: int) -> Iterator[tuple[int, int]]:
    """Each so many bits of a set of bits, numbered, until none are left."""
    once, number = (1 << width) - 1, 0
    while mask:
        yield number, mask & once
        mask >>= width
        number += 1
