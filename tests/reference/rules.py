"""Rules: connections that must or must not exist, judged in every state and combination.

Resistances come from networkx's `resistance_distance`. Contacts count as zero
ohms: specs given to the reference state no contact resistance. Every value a
rule with a limit depends on must be a plain number with its unit. Diodes and lamps are
taken to the disadvantage: open and hot for ``connect``, zero ohms and cold for ``isolate``.
"""

from __future__ import annotations

import math
import re
from collections.abc import Iterator, Mapping, Sequence
from typing import Any

import networkx as nx

from tests.reference.circuit import LUGS, YES, Circuit, Contacts, components, kind_of
from tests.reference.rest import State
from tests.reference.view import View

Part = Mapping[str, Any]
Link = tuple[str, str, float]
"""Two lugs of one part and the ohms between them."""

SCALE = {"": 1.0, "p": 1e-12, "n": 1e-9, "u": 1e-6, "m": 1e-3, "k": 1e3, "M": 1e6}


def number(text: str) -> float:
    """A plain quantity such as ``10 kohm``, ``50 mV`` or ``40 %``, in base units."""
    match = re.fullmatch(r"([0-9.]+) ?([pnumkM]?)(ohm|V|A|W|F|H|%)", text)
    assert match is not None, text
    return float(match[1]) * SCALE[match[2]]


def pot_links(part: Part) -> list[Link]:
    """Two resistors set by the wiper."""
    whole, share = number(part["pot"]), number(part["setting"]) / 100
    return [("ccw", "wiper", whole * share), ("wiper", "cw", whole * (1 - share))]


COLD = 0.1
"""Ohms of a cold lamp over those of a hot one (from memory)."""
SLACK = 1e-9


def links_of(part: Part, word: str) -> list[Link]:
    """What a part is in sums, for a rule that says ``connect`` or ``isolate``."""
    kind = kind_of(part)
    if kind == "pot":
        return pot_links(part)
    if kind in ("switch", "strip", "capacitor"):
        return []
    warmth = 1.0 if word == "connect" else COLD
    ohms = {
        "resistor": lambda: number(part["resistor"]),
        "meter": lambda: number(part["resistance"]),
        "choke": lambda: number(part["resistance"]),
        "fuse": lambda: number(part.get("resistance", "0 ohm")),
        "lamp": lambda: number(part["lamp"]) / number(part["current"]) * warmth,
        "diode": lambda: math.inf if word == "connect" else 0.0,
    }[kind]()
    return [(*LUGS[kind], ohms)]  # type: ignore[list-item]


def resistance(circuit: Circuit, closed: Contacts, places: Sequence[str], word: str) -> float:
    """Ohms between two terminals; infinite where nothing links them."""
    links = [
        (circuit.net_of[f"{name}.{a}"], circuit.net_of[f"{name}.{b}"], ohms)
        for name, part in circuit.parts.items()
        for a, b, ohms in links_of(part, word)
        if ohms != math.inf
    ]
    ties = [circuit.numbers(group) for group in closed]
    merged = components(
        range(len(circuit.nets)), ties + [[a, b] for a, b, ohms in links if ohms == 0]
    )
    node_of = {net: node for node, group in enumerate(merged) for net in group}
    graph: nx.MultiGraph[int] = nx.MultiGraph()
    graph.add_nodes_from(range(len(merged)))
    for a, b, ohms in links:
        if node_of[a] != node_of[b]:
            graph.add_edge(node_of[a], node_of[b], weight=ohms)
    start, end = (node_of[circuit.net_of[place]] for place in places)
    if start == end:
        return 0.0
    if not nx.has_path(graph, start, end):
        return math.inf
    near = graph.subgraph(nx.node_connected_component(graph, start))
    distance: Any = nx.resistance_distance(near, start, end, "weight", invert_weight=True)
    return float(distance)


def broken_with(rule: Mapping[str, Any], view: View, closed: Contacts) -> bool:
    """Whether a rule is broken with these contacts closed."""
    anchors = rule["connect"] if "connect" in rule else rule["isolate"]
    terminal_of = {name: terminal for terminal, name in view.name_of.items()}
    places = [terminal_of[anchor] for anchor in anchors]
    if "connect" in rule and "within" in rule:
        return resistance(view.circuit, closed, places, "connect") > number(rule["within"]) * (
            1 + SLACK
        )
    if "isolate" in rule and "beyond" in rule:
        return resistance(view.circuit, closed, places, "isolate") < number(rule["beyond"]) * (
            1 - SLACK
        )
    groups = view.tied(closed) if "connect" in rule else view.with_paths(closed, ())
    together = any(set(anchors) <= group for group in groups)
    return together != ("connect" in rule)


def chosen(when: Mapping[str, Any], state: State) -> bool:
    """Whether a state has every control at one of the positions named."""
    for control, told in when.items():
        if state[control] not in (told if isinstance(told, list) else [told]):
            return False
    return True


def rules_broken(
    rules: Sequence[Mapping[str, Any]], view: View, state: State, closed: Contacts
) -> Iterator[int]:
    """Indexes of the rules broken in one state."""
    for index, rule in enumerate(rules):
        if chosen(rule.get("when", {}), state) and broken_with(rule, view, closed):
            yield index


def rules_broken_on_the_way(
    rules: Sequence[Mapping[str, Any]],
    view: View,
    ends: Sequence[tuple[State, Contacts]],
    ways: Mapping[str, Sequence[Contacts]],
) -> Iterator[int]:
    """Indexes of the rules that hold at both ends of a step, and not all the way.

    ``ways`` are the combinations with unknown timing taken as shorting, which is
    the worse for ``isolate``, and as non-shorting, the worse for ``connect``.
    """
    for index, rule in enumerate(rules):
        if rule.get("while_switching") not in YES:
            continue
        if not all(chosen(rule.get("when", {}), state) for state, _ in ends):
            continue
        worse = ways["non-shorting" if "connect" in rule else "shorting"]
        on_the_way = any(broken_with(rule, view, closed) for closed in worse)
        if on_the_way and not any(broken_with(rule, view, closed) for _, closed in ends):
            yield index
