"""The JSON Schema of a spec, so that an editor can complete and check one."""

from __future__ import annotations

from typing import Any

from rewire.reading.forms import BRITISH, Form, keys_of
from rewire.records.keys import (
    MEMBERS,
    MISSING,
    NOTHING,
    AnyNets,
    AnyPart,
    Items,
    Named,
    Schema,
    ValueKind,
)
from rewire.records.meanings import meaning_of
from rewire.records.part import KINDS
from rewire.records.spec import Spec


def json_schema() -> dict[str, Any]:
    """The schema of a spec, made from its records (JSON Schema, draft 2020-12)."""
    defs: dict[str, Any] = {}
    whole = _whole(keys_of(Spec), defs)
    return {
        "$schema": "https://json-schema.org/draft/2020-12/schema",
        "$defs": dict(sorted(defs.items())),
        **whole,
        "title": "rewire spec",
    }


def _referred(form: Form, defs: dict[str, Schema]) -> Schema:
    """A reference to its schema, which is put among the definitions."""
    name = form.record.__name__
    if name not in defs:
        defs[name] = {}
        defs[name] = _whole(form, defs)
    reference: Schema = {"$ref": f"#/$defs/{name}"}
    other = form.written.other
    return {"anyOf": [reference, other]} if other else reference


def _whole(form: Form, defs: dict[str, Schema]) -> Schema:
    """Its schema."""
    fields = {name: _of_key(form, name, defs) for name in form.keys}
    if form.written.american:
        fields |= {new: fields[old] for new, old in BRITISH.items() if old in fields}
    return {
        "additionalProperties": False,
        "description": str(form.record.__doc__).partition("\n")[0],
        "properties": fields,
        **({"required": form.needed} if form.needed else {}),
        "title": form.record.__name__,
        "type": "object",
    }


def _of_key(form: Form, name: str, defs: dict[str, Schema]) -> Schema:
    key, default = form.keys[name], form.default(name)
    schema, simple = _of_kind(key.kind, defs), isinstance(key.kind, ValueKind)
    schema = {**schema, "description": _described(form.record, name, schema)}
    title = {} if isinstance(key.kind, type) else {"title": name.replace("_", " ").title()}
    may_be_left = default is not MISSING and not isinstance(default, dict)
    if not may_be_left or (not simple and default is not None):
        return {**schema, **title}
    if key.null and (default is None or key.also):
        said = {"description": schema.pop("description")}
        either = schema["anyOf"] if set(schema) == {"anyOf"} else [schema]
        return {"anyOf": [*either, {"type": "null"}], "default": None, **said, **title}
    plain_default = list(default) if isinstance(default, tuple) else default
    return {"default": plain_default, **schema, **title}


def _described(record: type[Any], name: str, schema: Schema) -> str:
    """What an editor shows of a key."""
    meaning = meaning_of(record, name)
    value = schema.get("description")
    said = f"{value}: {meaning.said}" if value else meaning.said
    return f"{said}. Example: {meaning.example}"


def _of_kind(kind: Any, defs: dict[str, Schema]) -> Schema:
    """The JSON Schema of a kind of value; what it refers to is put among the definitions."""
    if isinstance(kind, ValueKind):
        return kind.json
    if isinstance(kind, Items):
        return {"anyOf": [{"items": _of_kind(kind.of, defs), "type": "array"}, NOTHING]}
    if isinstance(kind, Named):
        inner = _of_kind(kind.of, defs)
        named: Schema = {"additionalProperties": inner}
        if "pattern" in kind.names.json:
            patterns = {kind.names.json["pattern"]: inner}
            named = {"patternProperties": patterns, "additionalProperties": False}
        return {"anyOf": [{**named, "type": "object"}, NOTHING]}
    if kind is AnyPart:
        return {"oneOf": [_referred(keys_of(one), defs) for _, one in sorted(KINDS.items())]}
    if kind is AnyNets:
        nets = {"items": MEMBERS.json, "type": "array"}
        by_name = {"additionalProperties": MEMBERS.json, "type": "object"}
        return {"anyOf": [{"oneOf": [by_name, nets]}, NOTHING]}
    return _referred(keys_of(kind), defs)
