"""What every reader must do with any bytes: read them, or refuse them with places and messages."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from contextlib import suppress
from pathlib import Path
from typing import Any

import yaml

from rewire.circuit import LimitReached
from rewire.compare import compare
from rewire.reading import SpecError, read_text
from rewire.reading.benchlog import read_bench_log_text
from rewire.reading.buzzout import read_buzzout_text
from rewire.reading.drawer import read_drawer_text
from tests.reading.builders import as_yaml, full, put

ROOT = Path(__file__).parents[2]
FLAGSHIP = read_text((ROOT / "specs" / "valve-amplifier.yaml").read_bytes())
FILE = "any.yaml"


def _spec(data: bytes) -> None:
    """What is read must also be fit to compare."""
    spec = read_text(data, FILE)
    with suppress(LimitReached):
        compare(spec)


READERS: dict[bytes, Callable[[bytes], object]] = {
    b"rewire_drawer": lambda data: read_drawer_text(data, FILE),
    b"rewire_switch": lambda data: read_buzzout_text(data, FILE),
    b"rewire_bench": lambda data: read_bench_log_text(data, FLAGSHIP, FILE),
}
"""What such a file begins with → its reader. All that begins otherwise is taken for a spec."""


def read_any(data: bytes) -> SpecError | None:
    """Read bytes as what they say they are; None if they are good.

    Every other exception than ``SpecError`` passes, and so does a refusal that lacks something.
    """
    reader = next((READERS[mark] for mark in READERS if b"\n" + mark in b"\n" + data), None)
    try:
        if reader is None:
            _spec(data)
        else:
            reader(data)
    except SpecError as error:
        _see_refusal(error)
        return error
    return None


def _see_refusal(error: SpecError) -> None:
    assert error.faults
    for fault in error.faults:
        assert fault.message
        assert min(fault.place.line, fault.place.column) >= 1
    for line in str(error).split("\n"):
        assert line.startswith(f"{FILE}:"), line
        assert line.isprintable(), line
        assert len(line) < 1000, line


def seeds() -> Iterator[bytes]:
    """Small good files of every kind, for a beginning."""
    yield from (path.read_bytes() for path in sorted((ROOT / "docs" / "examples").glob("*.yaml")))
    for name in ("monitor-jack", "bench-supply", "level-meter"):
        yield (ROOT / "specs" / f"{name}.yaml").read_bytes()
    whole = full()
    yield as_yaml(whole)
    yield yaml.safe_dump(whole, default_flow_style=True, width=200).encode()
    head: dict[str, Any] = {key: whole[key] for key in ("rewire", "title", "controls", "points")}
    for key in whole:
        yield as_yaml({**head, key: whole[key], "wirings": {"original": {}, "other": {}}})
    for name, part in whole["wirings"]["original"]["parts"].items():
        wirings = {"original": {"parts": {name: part}}, "other": {"parts": {name: part}}}
        yield as_yaml({**head, "wirings": wirings})
    for key, value in whole["wirings"]["substitute"].items():
        yield as_yaml(put({**head, "wirings": {"original": {}}}, ("wirings", "x", key), value))


def words() -> set[str]:
    """Keys and signs of the format and of YAML, for a dictionary."""
    found = set(_keys(full()))
    found |= {"rewire_drawer: 1", "rewire_switch: 1", "rewire_bench: 1", "quantity", "detents"}
    found |= {"continuity", "calibration", "applied", "indicated", "test", "found", "open", "OL"}
    found |= {"&a ", "*a", "<<: ", "!!", "---", "...", "? ", "- ", ": ", " #", "|2", ">-", "%YAML"}
    found |= {"10 ohm", "4k7", "50 uA", "1e99 A", "nan", "inf", "99999999999", "unknown", "fit"}
    return found | {"short", "closed", "3P3T", "1P100T", "table", "\\u202e", "'", '"', "\\x00"}


def _keys(value: object) -> Iterator[str]:
    if isinstance(value, dict):
        for key, item in value.items():
            yield str(key)
            yield from _keys(item)
    elif isinstance(value, list):
        for item in value:
            yield from _keys(item)
