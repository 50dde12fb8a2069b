"""Whatever the bytes: a spec or a SpecError, never a traceback."""

from __future__ import annotations

from pathlib import Path
from typing import Any

from hypothesis import given, settings, strategies as st

from rewire.reading import SpecError, read_text
from tests.reading.builders import as_yaml, full

FULL = as_yaml(full())
SHIPPED = [
    path.read_bytes() for path in sorted((Path(__file__).parents[2] / "specs").glob("*.yaml"))
]
CHARACTERS = "{}[]:,-#&*!|>'\"%@`?\n\t \r\0\ufeff\u2028\x85~<=.aA1é🙂"


def survives(data: bytes) -> None:
    error = refusal(data)
    if error is None:
        return
    assert error.faults
    assert all(fault.place.line >= 1 and fault.place.column >= 1 for fault in error.faults)
    assert all(fault.message for fault in error.faults)
    for line in str(error).split("\n"):
        assert line.startswith("any.yaml:")
        assert line.isprintable()


def refusal(data: bytes) -> SpecError | None:
    try:
        read_text(data, "any.yaml")
    except SpecError as error:
        return error
    return None


@given(st.binary(max_size=200))
def test_any_bytes(data: bytes) -> None:
    survives(data)


@given(st.text(max_size=200) | st.text(alphabet=CHARACTERS, max_size=200))
def test_any_text(text: str) -> None:
    survives(text.encode("utf-8", "surrogatepass"))


@settings(max_examples=50)
@given(
    st.sampled_from([FULL, *SHIPPED]),
    st.lists(
        st.tuples(st.floats(0, 1), st.integers(0, 30), st.text(alphabet=CHARACTERS, max_size=4)),
        min_size=1,
        max_size=4,
    ),
)
def test_a_good_file_with_scratches(data: bytes, scratches: list[tuple[float, int, str]]) -> None:
    for where, length, text in scratches:
        at = int(where * len(data))
        data = data[:at] + text.encode() + data[at + length :]
    survives(data)


LEAVES = st.sampled_from(
    ["", "yes", "1", "10 ohm", "fit", "open", "METER", "BIAS", "S1.1", "M1.+", "R12", "FEED", "R1",
     "table", "3P3T", "50 mV", "silicon", "bias", "1 A", "RD", "original", "\u202e", "a" * 200]
)  # fmt: skip
VALUES = st.recursive(
    LEAVES,
    lambda inner: (
        st.lists(inner, max_size=4)
        | st.dictionaries(
            LEAVES | st.sampled_from(["parts", "resistor", "from"]), inner, max_size=4
        )
    ),
    max_leaves=5,
)


def places(value: Any, path: tuple[Any, ...] = ()) -> list[tuple[Any, ...]]:
    """Every path in a tree."""
    steps = value.items() if isinstance(value, dict) else enumerate(value)
    if isinstance(value, str):
        return [path]
    return [path, *(p for step, item in steps for p in places(item, (*path, step)))]


PLACES = [path for path in places(full()) if path]


@settings(max_examples=40)
@given(st.lists(st.tuples(st.sampled_from(PLACES), VALUES), min_size=1, max_size=3))
def test_any_value_in_any_place(changes: list[tuple[tuple[Any, ...], Any]]) -> None:
    spec = full()
    for path, value in changes:
        holder: Any = spec
        for step in path[:-1]:
            if not isinstance(holder, (dict, list)) or (isinstance(holder, list) and not holder):
                break
            holder = holder[step] if _has(holder, step) else None
            if holder is None:
                break
        if isinstance(holder, dict) or (isinstance(holder, list) and _has(holder, path[-1])):
            holder[path[-1]] = value
    survives(as_yaml(spec))


def _has(holder: Any, step: Any) -> bool:
    if isinstance(holder, dict):
        return step in holder
    return isinstance(step, int) and step < len(holder)
