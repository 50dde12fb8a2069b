"""``docs/spec.md``: every key of every file, from the records that read them."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from pathlib import Path
from typing import Any

from rewire.reading.benchlog import BenchLog
from rewire.reading.buzzout import Buzzout
from rewire.reading.drawer import TOP
from rewire.reading.forms import Form, keys_of
from rewire.records.keys import (
    MISSING,
    YES_OR_NO,
    AnyPart,
    Items,
    Named,
    ValueKind,
)
from rewire.records.meanings import Meaning, meaning_of, meanings
from rewire.records.part import KINDS, Part
from rewire.records.spec import Spec

PAGE = Path(__file__).parents[2] / "docs" / "spec.md"
_HEAD = """# Reference: every key

Made from the program's own records (`make docs`); the same sentences stand in the schema (`rewire
schema`), which an editor shows as you type. [The guide](guide.md) is where to begin.

* Quantities are written as on drawings: `4k7`, `0R22`, `10 ohm`, `50 uA`, `-38 V`, `2 %`. Old
  drawings' `mfd` is read.
* A lug is `PART.LUG`: `S1.A2`, `M1.+`. Poles are A, B, C … (I and O are skipped); `S1.A` is the
  common of pole A, `S1.A1` its first throw. A *terminal* is a lug or a point.
* `color`, `license` and `polarized` are read too.
* *needed* means that the key may not be left out. Where no default is given, leaving it out means
  that it is not known, or that there is none.
"""
_FILES: Sequence[tuple[str, str, type[Any]]] = (
    ("A spec", "One YAML file for one swap.", Spec),
    (
        "A bench log",
        "What was measured: for `buzz --found` and `sheet --log`.",
        BenchLog,
    ),
    ("A buzz-out", "An unknown switch, buzzed: for `identify switch` and `fit --switch`.", Buzzout),
)
_WHERE = {
    "Document": "`document`", "Control": "Each of `controls`", "Point": "Each of `points`",
    "Procedure": "`procedure`", "Task": "Each of `before` and `after`",
    "Layout": "`layout` of a switch", "SwitchRating": "`rating` of a switch",
    "Dial": "`dial` of a meter",
    "SwitchMount": "`mount` of a switch", "MeterMount": "`mount` of a meter",
    "Reading": "Each of `readings`", "Drive": "Each of a reading's `also`",
    "Rule": "Each of `rules`",
    "Wiring": "Each of `wirings`", "Wire": "Each of `wires`", "Change": "Each of `changes`",
    "MeterOption": "Each of `options`", "Bench": "`bench`", "Found": "Each of `found`",
    "Acceptance": "Each of `acceptance`", "Page": "Each of `pages`",
    "PageNote": "Each of a page's `notes`",
    "Buzzed": "Each of `continuity`", "Indicated": "Each of `calibration`",
    "Accepted": "Each of `acceptance`",
}  # fmt: skip
"""Record → the key behind which it stands."""


def reference() -> str:
    """The page."""
    return "\n".join(_lines()) + "\n"


def _lines() -> Iterator[str]:
    yield _HEAD.rstrip()
    told: set[type[Any]] = set()
    for title, about, record in _FILES:
        yield from ("", f"## {title}", "", about, "", *_table(keys_of(record)))
        for inner in _inside(record):
            if inner not in told:
                told.add(inner)
                yield from _chapter(inner)
        if record is Spec:
            yield from _drawer()


def _inside(record: type[Any]) -> Iterator[type[Any]]:
    """Records that stand behind the keys of one, and behind theirs."""
    for key in keys_of(record).keys.values():
        kind = key.kind
        while isinstance(kind, Items | Named):
            kind = kind.of
        if kind is AnyPart:
            yield Part
            for _, one in sorted(KINDS.items()):
                yield from (one, *_inside(one))
        elif isinstance(kind, type) and kind.__name__ in meanings():
            yield from (kind, *_inside(kind))


def _chapter(record: type[Any]) -> Iterator[str]:
    if record is Part:
        yield from (
            "",
            "### Every part",
            "",
            "The key of its kind says what it is: `resistor: 10 ohm`.",
            "",
        )
        keys = meanings()["Part"]
        yield from _rows((key, "", "", meaning) for key, meaning in keys.items())
        return
    kind = issubclass(record, Part)
    title = f"A {record.kind}" if kind else _WHERE[record.__name__]
    yield from (
        "",
        f"### {title}",
        "",
        *_table(keys_of(record), meanings()["Part"] if kind else ()),
    )


def _drawer() -> Iterator[str]:
    yield from (
        "",
        "## A drawer",
        "",
        "Parts on hand: for `fit --drawer` and `values --drawer`. Or a table (CSV, as spreadsheet "
        "programs save it) with a line for each part and the columns `kind`, `value`, `tolerance`, "
        "`rating`, `quantity` …: `rewire new drawer.csv --drawer` writes one to begin with.",
        "",
    )
    yield from _rows((key, "", "", meanings()["Drawer"][key]) for key in TOP)


def _table(form: Form, without: Sequence[str] | Any = ()) -> Iterator[str]:
    yield from _rows(
        (name, _value(key.kind), _default(form.default(name)), meaning_of(form.record, name))
        for name, key in form.keys.items()
        if name not in without
    )


def _rows(rows: Any) -> Iterator[str]:
    yield "| key | means | default | as in |"
    yield "| --- | --- | --- | --- |"
    for name, value, default, meaning in rows:
        said = f"{value}: {meaning.said}" if value else meaning.said
        yield f"| `{name}` | {_cell(said)} | {default} | `{_example(name, meaning)}` |"


def _example(name: str, meaning: Meaning) -> str:
    return _cell(f"{name}: {meaning.example}")


def _cell(text: str) -> str:
    return text.replace("|", "\\|")


def _value(kind: Any) -> str:
    """What may stand behind a key, where the meaning does not say it."""
    if kind is YES_OR_NO:
        return "yes or no"
    if isinstance(kind, ValueKind):
        said = str(kind.json.get("description", "")).partition(", such as")[0]
        return said if said.startswith("a") and not said.startswith("at ") else ""
    return ""


def _default(value: Any) -> str:
    if value is MISSING:
        return "*needed*"
    if isinstance(value, bool):
        return "yes" if value else "no"
    if isinstance(value, str | float | int):
        return f"{value:g}" if isinstance(value, float) else str(value)
    return ""
