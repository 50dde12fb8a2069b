"""Small specs written by hand, and their facts in short."""

from __future__ import annotations

from collections import Counter
from typing import Any

Spec = dict[str, Any]


def hand(original: Any, substitute: Any, parts: Any = None, **more: Any) -> Spec:
    """A spec with points A to D, two controls, and the parts in both wirings."""
    parts = parts or {}
    first, second = parts.get("original", parts), parts.get("substitute", parts)
    spec: Spec = {
        "rewire": "1",
        "title": "hand",
        "controls": {"K": ["P", "Q"]},
        "points": {**{name: {"note": "n"} for name in "ABCD"}, "CH": {"chassis": "yes"}},
        "wirings": {
            "original": {"parts": first, "wires": original},
            "substitute": {"parts": second, "wires": substitute},
        },
    }
    changes = more.pop("changes", None)
    if changes:
        spec["wirings"]["substitute"]["changes"] = changes
    return {**spec, **more}


def switch(timing: str | None = "non-shorting", form: str = "SPDT", **more: Any) -> Spec:
    """A switch on control K."""
    told = {} if timing is None else {"timing": timing}
    return {"switch": form, "control": "K", **told, **more}


def kinds(found: dict[str, Any]) -> Counter[tuple[str, str]]:
    """How often each kind speaks of which groups."""
    return Counter(
        (fact["kind"], " ".join("+".join(group) for group in fact["groups"]))
        for fact in [*found["rest"], *found["steps"]]
    )


FEED = [["S.A", "C"], ["S.A1", "A"], ["S.A2", "A"]]
THROWS = [["S.A", "C"], ["S.A1", "A"], ["S.A2", "B"]]


def swap(first: Spec, second: Spec) -> Spec:
    """One switch in the original, another in the substitute."""
    return {"original": {"S": first}, "substitute": {"S": second}}
