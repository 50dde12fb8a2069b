"""Machine output as it is promised: a schema written here from its text, by hand."""

from __future__ import annotations

import json
import typing

import jsonschema
from hypothesis import given, settings, strategies as st

from rewire.cli.answers import refused
from rewire.cli.trouble import Complaint, Trouble
from rewire.compare.findings import Finding, FindingKind, Result, State, Step, Verdict
from rewire.report.check import result_as_json
from rewire.report.machine import dumped

NAMES = {"type": "array", "items": {"type": "string"}}
PARTIAL = {"type": "object", "additionalProperties": {"type": "string"}}
STATES = {"type": "array", "items": PARTIAL}
STEPS = {
    "type": "array",
    "items": {
        "type": "object",
        "required": ["from", "to"],
        "properties": {"from": PARTIAL, "to": PARTIAL},
        "additionalProperties": False,
    },
}
TEXT_OR_NULL = {"type": ["string", "null"]}


def carried(kinds: list[str], key: str, schema: object) -> dict[str, object]:
    """The rule that findings of these kinds carry a key."""
    return {
        "if": {"properties": {"kind": {"enum": kinds}}},
        "then": {"required": [key], "properties": {key: schema}},
    }


FINDING = {
    "type": "object",
    "required": ["kind", "meant", "groups", "through", "was", "now", "why", "message"],
    "properties": {
        "kind": {"enum": [*typing.get_args(FindingKind)]},
        "meant": {"type": "boolean"},
        "groups": {"type": "array", "items": NAMES},
        "through": NAMES,
        "was": NAMES,
        "now": TEXT_OR_NULL,
        "why": TEXT_OR_NULL,
        "message": {"type": "string"},
    },
    "allOf": [
        carried(["gap", "bridge", "interrupted", "stray"], "steps", STEPS),
        carried(["dropped", "inserted", "joined"], "states", STATES),
        carried(["rule"], "rule", {"type": "integer", "minimum": 0}),
        carried(["missing", "added", "reversed"], "part", {"type": "string"}),
        carried(["undone"], "change", {"type": "integer", "minimum": 0}),
        carried(["spare"], "place", {"type": "string"}),
        {
            "if": {"properties": {"kind": {"const": "rule"}}},
            "then": {"anyOf": [{"required": ["states"]}, {"required": ["steps"]}]},
        },
    ],
}
RESULTS = {
    "type": "array",
    "items": {
        "type": "object",
        "required": ["wiring", "verdict", "states", "findings"],
        "properties": {
            "wiring": {"type": "string"},
            "verdict": {"enum": ["kept", "changed", "broken"]},
            "states": {"type": "integer", "minimum": 0},
            "findings": {"type": "array", "items": FINDING},
        },
    },
}

text = st.text(max_size=8)
places = st.lists(text, max_size=3).map(tuple)
states = st.dictionaries(text, text, max_size=2).map(lambda at: State(tuple(at.items())))
steps = st.builds(Step, states, states)
SWITCHING = ("gap", "bridge", "interrupted", "stray")


@st.composite
def findings(draw: st.DrawFn) -> Finding:
    """A finding as comparing makes it: each kind with what that kind carries."""
    kind = draw(st.sampled_from(typing.get_args(FindingKind)))
    moving = kind in SWITCHING or (kind == "rule" and draw(st.booleans()))
    return Finding(
        kind=kind,
        meant=draw(st.booleans()),
        message=draw(text),
        groups=draw(st.lists(places, max_size=3).map(tuple)),
        states=() if moving else draw(st.lists(states, max_size=3).map(tuple)),
        steps=draw(st.lists(steps, min_size=1, max_size=3).map(tuple)) if moving else (),
        through=draw(places),
        was=draw(places),
        now=draw(st.none() | text),
        why=draw(st.none() | text),
        part=draw(text) if kind in ("missing", "added", "reversed") else None,
        rule=draw(st.integers(0, 9)) if kind == "rule" else None,
        change=draw(st.integers(0, 9)) if kind == "undone" else None,
        place=draw(text) if kind in ("spare", "timing") else None,
    )


results = st.builds(
    Result,
    text,
    st.sampled_from(typing.get_args(Verdict)),
    st.integers(0, 120),
    st.lists(findings(), max_size=4).map(tuple),
)


@settings(max_examples=12)
@given(found=st.lists(results, max_size=3))
def test_every_comparison_is_a_promised_document_and_says_all_it_found(
    found: list[Result],
) -> None:
    told = [json.loads(dumped(result_as_json(result))) for result in found]
    jsonschema.validate(told, RESULTS)
    assert [item["wiring"] for item in told] == [r.wiring for r in found]
    for item, result in zip(told, found, strict=True):
        assert item["verdict"] == result.verdict
        assert item["states"] == result.states
        assert [rebuilt(one) for one in item["findings"]] == list(result.findings)


def rebuilt(item: dict[str, typing.Any]) -> Finding:
    """A finding read back from machine output, key by key."""

    def state(at: dict[str, str]) -> State:
        return State(tuple(at.items()))

    return Finding(
        kind=item["kind"],
        meant=item["meant"],
        message=item["message"],
        groups=tuple(tuple(group) for group in item["groups"]),
        states=tuple(state(at) for at in item.get("states", [])),
        steps=tuple(Step(state(s["from"]), state(s["to"])) for s in item.get("steps", [])),
        through=tuple(item["through"]),
        was=tuple(item["was"]),
        now=item["now"],
        why=item["why"],
        part=item.get("part"),
        rule=item.get("rule"),
        change=item.get("change"),
        place=item.get("place"),
    )


@settings(max_examples=12)
@given(found=st.lists(results, max_size=1))
def test_machine_output_is_ascii_so_no_encoding_can_spoil_it(found: list[Result]) -> None:
    assert dumped(["Ω\udcff.yaml", *map(result_as_json, found)]).isascii()


def test_a_spec_that_cannot_be_read_lists_its_errors_in_place_of_results() -> None:
    trouble = Trouble(2, (Complaint("no such lug", "a.yaml", 3, 7, "nearest is 'S1.A2'"),))
    assert refused("check", "a.yaml", trouble) == {
        "rewire": 1,
        "command": "check",
        "spec": "a.yaml",
        "errors": [
            {"line": 3, "column": 7, "message": "no such lug", "hint": "nearest is 'S1.A2'"}
        ],
    }


def test_a_spec_beyond_a_limit_says_which_limit() -> None:
    document = refused("check", "a.yaml", Trouble(3, (Complaint("more than 1,000,000", "a.yaml"),)))
    assert document["limit"] == "more than 1,000,000"
    assert "results" not in document
