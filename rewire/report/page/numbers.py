"""States and conditions in numbers: a control's, then a position's, as the script counts them."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

from rewire.records.spec import Spec

At = list[tuple[int, int]]


def state_numbers(spec: Spec, state: Mapping[str, str]) -> At:
    """A state: pairs of a control's number and its position's."""
    order = list(spec.controls)
    return sorted(
        (order.index(name), spec.controls[name].positions.index(at)) for name, at in state.items()
    )


def when_numbers(spec: Spec, when: Mapping[str, Sequence[str]]) -> list[tuple[int, list[int]]]:
    """A condition: each control's number with those of the positions that fulfil it."""
    order = list(spec.controls)
    return [
        (order.index(name), [spec.controls[name].positions.index(at) for at in positions])
        for name, positions in when.items()
    ]
