"""What a wiring says of itself: its role, its cut wires, the differences that it declares."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any

from rewire.circuit.circuit import circuit_of
from tests.reading.builders import bare, full, put, read


def test_a_wiring_is_a_plan_unless_it_says_otherwise() -> None:
    spec = read(bare(**{"as-found": {}, "bodge": {"role": "tried"}, "barn": {"role": "found"}}))
    roles = {name: wiring.role for name, wiring in spec.wirings.items()}
    assert roles == {
        "original": None, "substitute": "plan", "as-found": "found", "bodge": "tried",
        "barn": "found",
    }  # fmt: skip


def test_the_name_as_found_may_be_a_plan() -> None:
    assert read(bare(**{"as-found": {"role": "plan"}})).wirings["as-found"].role == "plan"


def test_plans_are_told_first_then_what_was_found() -> None:
    wirings = {"as-found": {}, "bodge": {"role": "tried"}, "second": {}}
    found_first = {"original": {}, **wirings, "first": {}}
    spec = read(bare() | {"wirings": found_first})
    assert [w.name for w in spec.others] == ["second", "first", "as-found", "bodge"]


def test_an_original_alone_is_read() -> None:
    spec = read(bare() | {"wirings": {"original": {}}})
    assert (spec.original.name, spec.others) == ("original", ())


def test_a_cut_wire_joins_nothing_and_is_kept() -> None:
    wires = [["X", "CH"], ["CH", "cut", "BK"], {"from": "cut", "to": "X", "id": "OLD"}]
    spec = read(bare(substitute={"wires": wires}))
    plan = spec.wirings["substitute"]
    assert [wire.ends for wire in plan.wires] == [("X", "CH")]
    assert [(w.id, w.ends, w.colour) for w in plan.cut_wires] == [
        ("W2", ("CH", "cut"), "BK"), ("OLD", ("cut", "X"), None),
    ]  # fmt: skip
    loose = read(bare(substitute={"wires": wires[1:]}))
    nets = circuit_of(loose, loose.wirings["substitute"]).nets
    assert not any({"X", "CH"} <= set(net) for net in nets.members)


def test_an_added_part_may_be_declared_to_link() -> None:
    change = read(full()).wirings["substitute"].changes[-1]
    assert (change.kind, change.parts, change.anchors) == ("link", ("R21",), ("FEED", "HT"))
    assert (dict(change.when), change.why) == ({"METER": ("BIAS",)}, "w")


def test_what_a_reading_accepts_and_a_capacitor_with_a_plus_are_read() -> None:
    spec = read(full())
    assert spec.readings["bias"].accept_percent == 5.0
    assert spec.readings["volts"].accept_percent is None
    assert spec.parts["C1"].polarised  # type: ignore[attr-defined]
    american = full()
    american["parts"]["C1"] = {"capacitor": "8 uF", "polarized": "yes"}
    assert read(american).parts["C1"].polarised  # type: ignore[attr-defined]
    plain = put(full(), ("parts", "C1"), {"capacitor": "8 uF"})
    assert not read(plain).parts["C1"].polarised  # type: ignore[attr-defined]


TEXTS = {
    "author", "caution", "do", "equipment", "expect", "gauge", "how", "label", "meter", "note",
    "summary", "test", "text", "title", "what", "where", "why",
}  # fmt: skip


def texts_in(value: Any) -> Iterator[str]:
    """Every text of a spec that is kept as it was typed."""
    if isinstance(value, dict):
        yield from (one for key, one in value.items() if key in TEXTS and isinstance(one, str))
        value = list(value.values())
    for item in value if isinstance(value, list) else ():
        yield from texts_in(item)


def test_no_text_that_was_typed_is_lost() -> None:
    spec = full()
    kept = repr(read(spec))
    texts = [text for text in texts_in(spec) if not text[0].isdigit()]
    assert len(texts) >= 30
    assert [text for text in texts if repr(text) not in kept] == []
    assert [one.replaces for one in read(spec).options] == [
        one.get("replaces") for one in spec["options"]
    ]
