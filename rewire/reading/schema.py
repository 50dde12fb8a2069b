"""The JSON Schema of a spec, so that an editor can complete and check one.

``python -m rewire.reading.schema`` writes the copy that the package ships.
"""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

from rewire.reading.format import SPEC

SHIPPED = Path(__file__).with_name("schema.json")


def json_schema() -> dict[str, Any]:
    """The schema, made from the forms that read a spec (JSON Schema, draft 2020-12)."""
    defs: dict[str, Any] = {}
    whole = SPEC.whole_schema(defs)
    return {
        "$schema": "https://json-schema.org/draft/2020-12/schema",
        "$defs": dict(sorted(defs.items())),
        **whole,
    }


if __name__ == "__main__":
    SHIPPED.write_text(json.dumps(json_schema(), indent=1) + "\n", encoding="utf-8")
