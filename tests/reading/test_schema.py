"""The JSON Schema: right in what it takes. jsonschema is the independent judge."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

import jsonschema
import pytest
import yaml

from rewire.reading import json_schema
from tests.reading.builders import Path as Where, full, put

SPECS = sorted((Path(__file__).parents[2] / "specs").glob("*.yaml"))
JUDGE = jsonschema.Draft202012Validator(json_schema())


def test_it_is_a_schema() -> None:
    jsonschema.Draft202012Validator.check_schema(json_schema())


@pytest.mark.parametrize("path", SPECS, ids=lambda path: path.name)
@pytest.mark.parametrize("loader", [yaml.BaseLoader, yaml.SafeLoader], ids=["texts", "guessed"])
def test_shipped_specs_fit_it_typed_or_guessed(path: Path, loader: Any) -> None:
    tree = yaml.load(path.read_text(encoding="utf-8"), Loader=loader)
    dated = json.loads(json.dumps(tree, default=str))
    assert [error.message for error in JUDGE.iter_errors(dated)] == []


def test_every_key_of_the_format_fits_it() -> None:
    assert [error.message for error in JUDGE.iter_errors(full())] == []


WRONG: list[tuple[Where, Any]] = [
    (("zzz",), "1"),
    (("title",), ["list"]),
    (("parts", "R1"), {"resistr": "10 ohm"}),
    (("parts", "R1", "zzz"), "1"),
    (("parts", "R1", "between"), ["FEED"]),
    (("parts", "1R"), {"resistor": "10 ohm"}),
    (("wirings", "original", "wires", 0), ["S1.5"]),
    (("wirings", "original", "wires", 0), ["S1.5", "M1.+", "RD", "x"]),
    (("wirings", "original", "wires", 1, "too"), "x"),
    (("wirings", "original", "parts", "S1", "style"), "rotery"),
    (("found", 0, "plan"), "burn"),
    (("pages", 0, "notes", 0, "at"), [0.5]),
    (("rewire",), 2),
]


@pytest.mark.parametrize(("path", "value"), WRONG, ids=lambda value: str(value)[:40])
def test_what_the_reader_refuses_by_its_shape_does_not_fit(path: Where, value: Any) -> None:
    assert not JUDGE.is_valid(put(full(), path, value))
