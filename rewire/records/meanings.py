"""What each key of a file means, in a sentence, and how it is written: ``meanings.ini``.

The schema shows these sentences in an editor; ``docs/spec.md`` is made from them.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from functools import cache
from pathlib import Path

_FILE = Path(__file__).with_name("meanings.ini")


@dataclass(frozen=True, slots=True)
class Meaning:
    """One key."""

    said: str
    example: str
    """What may stand behind it, as YAML on one line."""


Meanings = Mapping[str, Meaning]


@cache
def meanings() -> Mapping[str, Meanings]:
    """Record → key → what it means. A part has the keys of ``Part`` too."""
    from configparser import ConfigParser

    table = ConfigParser(delimiters=("=",), interpolation=None)
    table.optionxform = str  # type: ignore[assignment, method-assign]
    table.read_string(_FILE.read_text("utf-8"))
    return {
        record: {key: Meaning(*told.split(" | ", 1)) for key, told in table.items(record)}
        for record in table.sections()
    }


def example_of(key: str | None) -> str | None:
    """How a key is written, as a way out; None for a name of the user's choice."""
    told = next((keys[key] for keys in meanings().values() if key in keys), None) if key else None
    return f"write {key}: {told.example}" if told else None


def meaning_of(record: type, key: str) -> Meaning:
    """What a key of a record means.

    Raises:
        KeyError: it is not said.
    """
    tables = (meanings().get(one.__name__, {}) for one in record.__mro__)
    told = next((keys[key] for keys in tables if key in keys), None)
    if told is None:
        raise KeyError(f"{record.__name__}.{key}")
    return told
