"""docs/spec.md and the schema: every key of every file is there, and nothing else."""

from __future__ import annotations

import re
from collections.abc import Iterator
from typing import Any

import pytest
import yaml

from rewire.reading import json_schema
from rewire.reading.benchlog import BenchLog
from rewire.reading.buzzout import Buzzout
from rewire.reading.drawer import TOP, read_drawer_text
from rewire.reading.forms import Form, keys_of
from rewire.records.keys import AnyNets, AnyPart, Items, Named, ValueKind
from rewire.records.meanings import meaning_of, meanings
from rewire.records.part import KINDS, Part
from rewire.records.spec import Spec
from tests.docs.reference import PAGE, reference


def forms(record: type[Any], seen: set[type[Any]]) -> Iterator[Form]:
    """The record and all that stand behind its keys."""
    if record in seen:
        return
    seen.add(record)
    yield keys_of(record)
    for key in keys_of(record).keys.values():
        kind = key.kind
        while isinstance(kind, Items | Named):
            kind = kind.of
        inner = KINDS.values() if kind is AnyPart else [kind]
        for one in inner:
            if isinstance(one, type) and one is not AnyNets:
                yield from forms(one, seen)


FORMS = [form for file in (Spec, BenchLog, Buzzout) for form in forms(file, set())]
KEYS = [(form.record, name, key) for form in FORMS for name, key in form.keys.items()]


def test_the_page_is_current() -> None:
    made = reference()
    assert PAGE.read_text("utf-8") == made, "make docs"


def test_every_key_has_a_meaning_and_every_meaning_a_key() -> None:
    for record, name, _ in KEYS:
        assert meaning_of(record, name).said, (record, name)
    read = {(base.__name__, name) for record, name, _ in KEYS for base in record.__mro__}
    told = {(record, key) for record, keys in meanings().items() for key in keys}
    assert told - read == {("Drawer", key) for key in TOP}


def test_the_page_has_every_key_and_no_other() -> None:
    rows = re.findall(r"^\| `(\w+)` \| (.+?) \|", PAGE.read_text("utf-8"), re.M)
    said = [(key, text.rpartition(": ")[2]) for key, text in rows]
    wanted = {
        (key, meaning.said.rpartition(": ")[2].replace("|", "\\|"))
        for keys in meanings().values()
        for key, meaning in keys.items()
    }
    assert set(said) == wanted
    assert len(said) == sum(map(len, meanings().values()))


@pytest.mark.parametrize(
    ("record", "name", "key"), KEYS, ids=lambda one: getattr(one, "__name__", str(one)[:20])
)
def test_every_example_is_read(record: type[Any], name: str, key: Any) -> None:
    """By the reader of its own key: what it shows may be written so."""
    tree = yaml.load(f"{name}: {meaning_of(record, name).example}", Loader=yaml.BaseLoader)
    assert list(tree) == [name]
    kind, value = key.kind, tree[name]
    while isinstance(kind, Items | Named):
        value = value[0] if isinstance(kind, Items) else next(iter(value.values()))
        kind = kind.of
    if isinstance(kind, ValueKind):
        kind.read(value)
    elif isinstance(value, dict) and kind not in (AnyNets, AnyPart):
        assert set(value) <= set(keys_of(kind).keys)


def test_the_examples_of_a_drawer_are_read() -> None:
    lines = [f"{key}: {meanings()['Drawer'][key].example}" for key in TOP]
    drawer = read_drawer_text("\n".join(lines).encode())
    assert (len(drawer.resistors), len(drawer.pots), len(drawer.switches)) == (1, 1, 1)


def test_an_editor_shows_what_the_page_says() -> None:
    schema = json_schema()
    described = {**schema["$defs"], "Spec": schema}
    for form in FORMS:
        if form.record.__name__ not in described:
            continue
        shown = described[form.record.__name__]["properties"]
        for name in form.keys:
            assert meaning_of(form.record, name).said in shown[name]["description"]
    assert {form.record for form in FORMS if issubclass(form.record, Part)} == {*KINDS.values()}
