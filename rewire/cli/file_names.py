"""Names of files by what was asked for: another choice never lands on the same file."""

from __future__ import annotations

import hashlib
import re
from collections.abc import Sequence

_UNSAFE = re.compile(r"[^A-Za-z0-9_+-]+")
_LONGEST = 80


def safe(word: str) -> str:
    """A name from a spec as part of a file's name: letters, digits, ``_``, ``+``, ``-`` alone."""
    return _UNSAFE.sub("_", word)


def stem_with(stem: str, choices: Sequence[str]) -> str:
    """The name of a file without its ending, with what was chosen behind it.

    Names in a spec are data. Where they cannot stand in a file's name as they are, or are too long
    for one, a few digits of their digest tell choices apart that would look alike.

    >>> stem_with("amplifier", []), stem_with("amplifier", ["substitute", "lugs"])
    ('amplifier', 'amplifier-substitute-lugs')
    >>> stem_with("amplifier", ["a b"])
    'amplifier-a_b-c8687a08'
    """
    words = [safe(word) for word in choices]
    name = "-".join([stem, *words])
    if words == list(choices) and len(name) - len(stem) <= _LONGEST:
        return name
    digest = hashlib.sha256("\0".join(choices).encode("utf-8", "surrogatepass")).hexdigest()[:8]
    return f"{name[: len(stem) + _LONGEST]}-{digest}"
