"""Starter specs: invented sets with a comment at every key, to be changed into one's own."""

from __future__ import annotations

import json
from importlib import resources

from jinja2 import Environment, StrictUndefined

from rewire.records.switches import pole_letters, read_form

TITLES = {
    "meter-switch": "Meter switch of an invented amplifier",
    "meter": "Panel meter of an invented charger",
    "jack": "Metering jack of an invented exciter",
    "drawer": "The trays beside the bench",
    "buzz-out": "Switch from the box of spares",
}
"""What is replaced, or told → the title of its starter where none is asked for."""
FORM = "3P3T"
"""The form of the starter's switch where none is asked for."""
MOST = 12
"""Poles, and throws."""
_YAML = Environment(
    trim_blocks=True, lstrip_blocks=True, keep_trailing_newline=True, undefined=StrictUndefined
)


class UnfitForm(ValueError):
    """A form that no meter switch has; the text says which would do."""


def starter(kind: str, file: str, title: str | None = None, form: str = FORM) -> str:
    """The text of a starter spec; ``UnfitForm`` for a form with fewer than two poles or throws.

    Args:
        kind: one of ``TITLES``.
        file: the name it will have, for the commands in its first comment.
        title: its title; None for one of its own.
        form: of the switch, ``3P4T`` say; for a meter switch alone.
    """
    counts = read_form(form.upper())
    if counts is None:
        raise UnfitForm("a form is poles and throws: DPDT, 3P3T, 2P6T")
    if not all(2 <= count <= MOST for count in counts):
        raise UnfitForm(
            f"a meter switch has two poles or more and two throws or more, here at most "
            f"{MOST} and {MOST}"
        )
    named = title or TITLES[kind]
    ending = ".csv" if kind == "drawer" and file.lower().endswith(".csv") else ".yaml"
    text = resources.files(__package__).joinpath(f"{kind}{ending}").read_text("utf-8")
    return _YAML.from_string(text).render(
        # In a comment: nothing in a name may end the line.
        file=file if file.isprintable() else "FILE",
        title=json.dumps(named, ensure_ascii=not named.isprintable()),  # which is YAML
        form=form.upper(), poles=counts[0], throws=counts[1], all=list(range(1, counts[1] + 1)),
        spare=", ".join(pole_letters(counts[0])[3:]),
    )  # fmt: skip
