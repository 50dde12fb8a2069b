"""`rewire schema` prints a schema that a judge from outside accepts, and specs with it."""

from __future__ import annotations

import json
from pathlib import Path

import jsonschema
import pytest
import yaml
from click.testing import CliRunner

from rewire.cli import rewire

SPECS = sorted((Path(__file__).parents[2] / "specs").glob("*.yaml"))


@pytest.fixture(scope="module")
def judge() -> jsonschema.protocols.Validator:
    done = CliRunner().invoke(rewire, ["schema"])
    assert done.exit_code == 0
    schema = json.loads(done.stdout)
    kind = jsonschema.validators.validator_for(schema)
    kind.check_schema(schema)
    return kind(schema)


@pytest.mark.parametrize("path", SPECS, ids=lambda path: path.stem)
def test_shipped_specs_are_valid_and_a_wrong_key_is_not(
    judge: jsonschema.protocols.Validator, path: Path
) -> None:
    spec = yaml.safe_load(path.read_text(encoding="utf-8"))
    spec.get("document", {}).pop("date", None)  # YAML 1.1 makes a date of it; the format does not
    judge.validate(spec)
    assert not judge.is_valid({**spec, "wirngs": {}})
    del spec["wirings"]["original"]
    assert not judge.is_valid(spec)
