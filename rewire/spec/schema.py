"""The JSON Schema of a spec, so that an editor can complete and check one."""

from __future__ import annotations

from typing import Any

from rewire.spec.written import WrittenSpec


def json_schema() -> dict[str, Any]:
    """The schema, made from the models that read a spec (JSON Schema, draft 2020-12)."""
    schema = WrittenSpec.model_json_schema(by_alias=True)
    return {
        "$schema": "https://json-schema.org/draft/2020-12/schema",
        **schema,
        "title": "rewire spec",
    }
