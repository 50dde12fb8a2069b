"""Pairs of wirings to be marked against each other: written at random, small and large."""

from __future__ import annotations

import dataclasses
import json
import random

from rewire.reading.read import read_text
from rewire.records.part import Part
from rewire.records.parts import Resistor
from rewire.records.spec import Spec, Wire, Wiring
from rewire.records.switches import Switch
from tests.draw.builders import COLOURS, HERE, meter, net, plain_switch, point, resistor, spec, wire
from tests.reference.strategies import random_wirings

_LETTERS = "ABCDEFGHIJKLMNOPQRSTUVWXYZ_abcdefghijklmnopqrstuvwxyz0123456789"


def written_pair(seed: int) -> Spec:
    """A small spec with odd switches, and what people do to a wiring."""
    rng = random.Random(seed)
    return read_text(json.dumps(random_wirings(rng, rng.randint(0, 2))).encode())


def large_pair(seed: int) -> Spec:
    """Switches up to 6 poles by 12 throws, up to 60 wires, names up to 40 characters."""
    rng = random.Random(seed)
    points = [point("CHASSIS"), *(point(_name(rng, "P", n)) for n in range(rng.randint(1, 9)))]
    parts = [resistor(_name(rng, "R", n)) for n in range(rng.choice((0, 2, 6, 12)))]
    names = [p.name for p in points]
    count, throws = rng.choice((1, 1, 2)), rng.choice((2, 3, 5, 12))
    old = _wiring(rng, "original", _switches(rng, count, throws), [meter(), *parts], names)
    kept = [p for p in parts if rng.random() < 0.7]
    changed: list[Part] = [_changed(rng, part) for part in kept]
    changed += [resistor(_name(rng, "N", n)) for n in range(rng.choice((0, 1, 4)))]
    switches = _switches(rng, count, throws)
    other = _wiring(rng, "other", switches, [meter(), *changed], names, old.wires)
    return spec([old, other], points)


def _name(rng: random.Random, prefix: str, number: int) -> str:
    size = rng.choice((1, 3, 8, 20, 36))
    return f"{prefix}{number}" + "".join(rng.choice(_LETTERS) for _ in range(size))


def _switches(rng: random.Random, count: int, throws: int) -> list[Switch]:
    return [
        plain_switch(f"S{n + 1}", f"{rng.randint(1, 6 if count == 1 else 2)}P{throws}T")
        for n in range(count)
    ]


def _changed(rng: random.Random, part: Resistor) -> Part:
    """The same, or another that replaces it, one way round or the other."""
    if rng.random() < 0.5:
        return part
    lugs = ["1", "2"] if rng.random() < 0.7 else ["2", "1"]
    replaces = {own: f"{part.name}.{lug}" for own, lug in zip(("1", "2"), lugs, strict=True)}
    return dataclasses.replace(part, name=f"{part.name[:36]}_new", replaces=replaces)


def _wiring(
    rng: random.Random, name: str, switches: list[Switch], parts: list[Part], points: list[str],
    before: tuple[Wire, ...] = (),
) -> Wiring:  # fmt: skip
    every: list[Part] = [*switches, *parts]
    places = [*points, *(p.terminal(lug) for p in every for lug in p.terminals)]
    wires = [w for w in before if set(w.ends) <= set(places) and rng.random() < 0.6]
    for number in range(rng.choice((0, 5, 20, 60)) - len(wires)):
        a, b = rng.sample(places, 2)
        wires.append(wire(f"{name[:2]}{number + 100}", a, b, rng.choice(COLOURS)))
    nets = [net(None, *rng.sample(places, 3))] if rng.random() < 0.3 else []
    named = {part.name: part for part in every}
    return Wiring(name, named, tuple(nets), tuple(wires), (), {}, None, HERE)
