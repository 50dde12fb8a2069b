"""The JSON Schema of a spec, so that an editor can complete and check one.

``python -m rewire.spec.schema`` writes the copy that the package ships.
"""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

from rewire.spec.written import WrittenSpec

SHIPPED = Path(__file__).with_name("schema.json")


def json_schema() -> dict[str, Any]:
    """The schema, made from the models that read a spec (JSON Schema, draft 2020-12)."""
    schema = WrittenSpec.model_json_schema(by_alias=True)
    _close(schema)
    return {
        "$schema": "https://json-schema.org/draft/2020-12/schema",
        **schema,
        "title": "rewire spec",
    }


def _close(schema: Any) -> None:
    """Where names must fit a pattern, refuse those that do not."""
    if isinstance(schema, dict):
        if "patternProperties" in schema:
            schema.setdefault("additionalProperties", False)
        for inner in schema.values():
            _close(inner)
    elif isinstance(schema, list):
        for inner in schema:
            _close(inner)


if __name__ == "__main__":
    SHIPPED.write_text(json.dumps(json_schema(), indent=1) + "\n", encoding="utf-8")
