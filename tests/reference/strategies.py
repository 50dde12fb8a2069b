"""Hypothesis strategies for random specs, and the plain function behind them."""

from __future__ import annotations

import itertools
import math
import random
from collections.abc import Mapping
from typing import Any

from hypothesis import strategies as st

from tests.reference.circuit import LUGS, control_positions, kind_of, read_circuit, steps_of
from tests.reference.generate import (
    Spec,
    chance,
    doubled_wires,
    feeding_wires,
    original_parts,
    random_controls,
    random_never,
    random_points,
    random_wires,
    resistances_known,
    staying_parts,
    written_wiring,
)
from tests.reference.meant import KIND_OF_CHANGE, WITH_PARTS
from tests.reference.mutate import mutated
from tests.reference.oracle import facts, rules_found
from tests.reference.switching import moving, phases
from tests.reference.view import ROLELESS, claims, views

WORD_OF_KIND = {kind: word for word, kind in KIND_OF_CHANGE.items()}
MOST_COMBINATIONS = 150
LIMITS = ("0.5 ohm", "33.3 ohm", "77.7 ohm", "150.5 ohm", "1.005 kohm")


def random_when(rng: random.Random, spec: Spec, sure: Mapping[str, str]) -> dict[str, Any]:
    """Positions of one control; mostly such that a known state is among them."""
    control = rng.choice(sorted(spec["controls"]))
    positions = control_positions(spec, control)
    chosen = set(rng.sample(positions, rng.randint(1, len(positions))))
    if control in sure and chance(rng, 0.8):
        chosen.add(sure[control])
    told = [position for position in positions if position in chosen]
    return {control: told[0] if len(told) == 1 and chance(rng, 0.5) else told}


def random_rule(rng: random.Random, spec: Spec) -> dict[str, Any]:
    """A rule between places that are there in every wiring and cannot be turned round."""
    pots = [name for name, part in spec["parts"].items() if kind_of(part) == "pot"]
    places = [*spec["points"], *(f"{name}.{lug}" for name in pots for lug in LUGS["pot"])]
    word = rng.choice(["connect", "isolate"])
    rule: dict[str, Any] = {word: rng.sample(places, 2)}
    if chance(rng, 0.5) and resistances_known(spec):
        rule["within" if word == "connect" else "beyond"] = rng.choice(LIMITS)
    if chance(rng, 0.6):
        rule["while_switching"] = "yes"
    if chance(rng, 0.3):
        rule["when"] = random_when(rng, spec, {})
    return {**rule, "why": "because"}


def broken_where(spec: Spec, rule: dict[str, Any]) -> set[str]:
    """``at rest`` or ``on the way``: where the substitute breaks a rule."""
    _, other = views(spec, "substitute")
    found = rules_found({**spec, "rules": [rule]}, other)
    return {"at rest" if "state" in fact else "on the way" for fact in found}


def random_rules(rng: random.Random, spec: Spec) -> list[dict[str, Any]]:
    """None to two rules: broken on the way alone if one is found, else mostly kept."""
    rules = []
    for _ in range(rng.choice([0, 0, 0, 1, 1, 2])):
        drawn = [(rule, broken_where(spec, rule)) for rule in random_rule_list(rng, spec)]
        rare = [rule for rule, where in drawn if where == {"on the way"}]
        kept = [rule for rule, where in drawn if not where or chance(rng, 0.2)]
        rules += (rare or kept)[:1]
    return rules


def random_rule_list(rng: random.Random, spec: Spec) -> list[dict[str, Any]]:
    """A few rules to choose from."""
    return [random_rule(rng, spec) for _ in range(4)]


def declared_fact(rng: random.Random, spec: Spec, fact: Mapping[str, Any]) -> list[dict[str, Any]]:
    """Declarations that link the groups of a fact, one after the other."""
    told = []
    word = WORD_OF_KIND[fact["kind"]]
    names = [rng.choice(group) for group in fact["groups"]]
    for a, b in itertools.pairwise(names):
        pair = [a, b] if chance(rng, 0.5) else [b, a]
        change: dict[str, Any] = {word: pair}
        if word in WITH_PARTS:
            change = {word: inserted_parts(rng, spec), "between": pair}
        if chance(rng, 0.35):
            sure = fact.get("state") or {**fact["others"], fact["control"]: fact["from"]}
            change["when"] = random_when(rng, spec, sure)
        told.append(change)
    return told


def added_names(spec: Spec) -> list[str]:
    """Added parts of the substitute."""
    roles = {terminal.split(".")[0] for terminal in claims(spec, "substitute")}
    parts = spec["wirings"]["substitute"]["parts"]
    return [n for n, part in parts.items() if kind_of(part) not in ROLELESS and n not in roles]


def inserted_parts(rng: random.Random, spec: Spec) -> Any:
    """Some or all added parts; one is written bare."""
    added = added_names(spec)
    some = added if chance(rng, 0.7) else rng.sample(added, rng.randint(1, len(added)))
    return some[0] if len(some) == 1 else some


def idle_change(rng: random.Random, spec: Spec) -> dict[str, Any]:
    """A declaration drawn blindly, which mostly never occurs."""
    anchors = sorted({*spec["points"], *claims(spec, "substitute").values()})
    word = rng.choice(["drop", "join", "gap", "bridge", "interrupt", "stray"])
    if word in ("interrupt", "stray"):
        anchors = sorted(spec["points"])
    return {word: rng.sample(anchors, 2)}


def random_changes(rng: random.Random, spec: Spec) -> list[dict[str, Any]]:
    """Declared changes: most facts, some facts, or something that never occurs."""
    if chance(rng, 0.55):
        return []
    found = facts(spec)
    share = rng.choice([0.5, 1.0, 1.0])
    changes = [{"remove": part} for part in found["missing"] if chance(rng, share)]
    changes += [{"reverse": part} for part in found["reversed"] if chance(rng, share)]
    kinds_and_groups: set[str] = set()
    for fact in [*found["rest"], *found["steps"]]:
        same = f"{fact['kind']} {fact['groups']}"
        if same not in kinds_and_groups and chance(rng, share):
            kinds_and_groups.add(same)
            changes += declared_fact(rng, spec, fact)
    if chance(rng, 0.1):
        changes.append(idle_change(rng, spec))
    return [{**change, "why": "meant"} for change in changes]


def blur_values(rng: random.Random, spec: Spec) -> None:
    """What plays no part in ties and paths: an unknown meter, a contact resistance."""
    if any("within" in rule or "beyond" in rule for rule in spec.get("rules", [])):
        return
    wirings = [wiring["parts"] for wiring in spec["wirings"].values()]
    for part in (part for parts in wirings for part in parts.values()):
        if kind_of(part) == "switch" and chance(rng, 0.1):
            part["contact_resistance"] = "10 mohm"
        if kind_of(part) == "meter" and chance(rng, 0.1):
            part["resistance"] = "unknown"


def take_timing(rng: random.Random, parts: dict[str, Any], timing: str, probability: float) -> None:
    """Most switches of a wiring made alike in timing, which is what differs between makes."""
    for name, part in parts.items():
        if kind_of(part) == "switch" and chance(rng, probability):
            parts[name] = {**part, "timing": timing}


def random_wirings(rng: random.Random, size: int) -> Spec:
    """A spec with two wirings, without rules and declared changes."""
    spec: Spec = {"rewire": "1", "title": "random", "controls": random_controls(rng, size)}
    spec["points"] = random_points(rng, size)
    spec["parts"] = staying_parts(rng, spec)
    never = random_never(rng, spec)
    if never:
        spec["never"] = never
    parts = original_parts(rng, spec, size)
    first, second = rng.sample(["shorting", "non-shorting"], 2)
    contrast = chance(rng, 0.7)
    if contrast:
        take_timing(rng, parts, first, 0.8)
    wiring = rng.choice([doubled_wires, doubled_wires, feeding_wires, random_wires])
    wires = wiring(rng, spec, parts)
    others, other_wires = mutated(rng, spec, parts, wires)
    if contrast:
        take_timing(rng, others, second, 0.6)
    if chance(rng, 0.1):
        other_wires = random_wires(rng, spec, others)
    spec["wirings"] = {
        "original": written_wiring(rng, parts, wires),
        "substitute": written_wiring(rng, others, other_wires),
    }
    return spec


def most_combinations(spec: Spec) -> int:
    """Combinations of the move that has most, in either wiring."""
    counts = [1]
    for wiring, control in itertools.product(spec["wirings"], spec["controls"]):
        circuit = read_circuit(spec, wiring)
        for ends in steps_of(spec, control):
            moved = moving(circuit, control, *ends)
            counts.append(math.prod(len(phases(s, *ends, "shorting")) for s in moved))
    return max(counts)


def random_spec(rng: random.Random, size: int = 1) -> Spec:
    """A valid spec with the wirings ``original`` and ``substitute``.

    Args:
        rng: All choices are drawn from it, nothing else.
        size: 0, 1 or 2: how many controls, switches and points it may have.
    """
    spec = random_wirings(rng, size)
    while most_combinations(spec) > MOST_COMBINATIONS:
        spec = random_wirings(rng, size)
    rules = random_rules(rng, spec)
    if rules:
        spec["rules"] = rules
    changes = random_changes(rng, spec)
    if changes:
        spec["wirings"]["substitute"]["changes"] = changes
    blur_values(rng, spec)
    return spec


def specs(size: int = 1) -> st.SearchStrategy[Spec]:
    """Random valid specs, as plain mappings."""
    return st.builds(random_spec, st.randoms(use_true_random=False), st.just(size))
