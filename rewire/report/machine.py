"""Machine output: records as JSON, by their own fields or by the keys promised for them."""

from __future__ import annotations

import json
from collections.abc import Callable, Mapping, Sequence
from dataclasses import fields, is_dataclass
from math import isfinite
from operator import attrgetter
from typing import Any

JSON = dict[str, Any]
Keys = Mapping[type, str | Callable[[Any], Any]]
"""Kind of record → its keys, blanks between; ``key=field`` where the record calls it otherwise.
Or what makes of it something that JSON holds."""


def as_json(value: Any, keys: Keys) -> Any:
    """A record as JSON holds it, records in it too; what has no bound is None.

    >>> as_json(1.5, {}), as_json((float("inf"), "Ω"), {})
    (1.5, [None, 'Ω'])
    """
    if isinstance(value, float):
        return value if isfinite(value) else None
    if isinstance(value, Mapping):
        return {key: as_json(item, keys) for key, item in value.items()}
    if isinstance(value, list | tuple):
        return [as_json(item, keys) for item in value]
    if is_dataclass(value):
        told = keys.get(type(value)) or " ".join(field.name for field in fields(value))
        made = picked(value, told) if isinstance(told, str) else told(value)
        return as_json(made, keys)
    return value


def picked(record: Any, told: str) -> JSON:
    """Some fields of a record, as ``Keys`` names them."""
    pairs = (name.partition("=") for name in told.split())
    return {key: attrgetter(field or key)(record) for key, _, field in pairs}


def document(command: str, limits: Sequence[str] = (), **told: Any) -> JSON:
    """What a command tells machines, with the limits that were reached."""
    limit = {"limit": "; ".join(limits)} if limits else {}
    return {"rewire": 1, "command": command, **told, **limit}


def dumped(whole: object) -> str:
    """Text of a document, in ASCII, so that no terminal's encoding can spoil it."""
    return json.dumps(as_json(whole, {}), indent=1, allow_nan=False) + "\n"
