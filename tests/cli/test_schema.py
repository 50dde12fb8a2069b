"""`rewire schema` prints the schema (tests/spec judges what it takes and refuses)."""

from __future__ import annotations

import json

import jsonschema
from click.testing import CliRunner

from rewire.cli import rewire
from rewire.reading import json_schema


def test_what_is_printed_is_a_json_schema_and_the_one_that_specs_are_read_by() -> None:
    done = CliRunner().invoke(rewire, ["schema"])
    assert done.exit_code == 0
    printed = json.loads(done.stdout)
    jsonschema.validators.validator_for(printed).check_schema(printed)
    assert printed == json_schema()
