"""Random small equipments with a switch to be replaced, and switches to replace it with.

A spec is the plain mapping that a YAML file would hold, as the reference of the comparison
(tests/reference) reads it; an offer is a mapping in the words of a spec's part.
"""

from __future__ import annotations

import random
from typing import Any

import yaml

from rewire.fit.offers import Offer, offers_of_drawer
from rewire.reading import read_text
from rewire.reading.drawer import read_drawer_text
from rewire.records.spec import Spec as Model

Spec = dict[str, Any]

FORMS = {"SPDT": (1, 2), "SP3T": (1, 3), "DPDT": (2, 2), "2P3T": (2, 3), "DPST": (2, 1)}
LETTERS = "ABCDEFGH"


def lugs_of(form: str) -> list[str]:
    """Lugs of a plain form, by the rule of the format."""
    poles, throws = FORMS[form]
    return [f"{LETTERS[p]}{t or ''}" for p in range(poles) for t in range(throws + 1)]


def random_table(rng: random.Random, lugs: int, detents: int) -> dict[str, list[list[str]]]:
    """Groups closed per detent, disjoint."""
    names = [f"L{n}" for n in range(lugs)]
    table = {}
    for detent in range(detents):
        mixed = rng.sample(names, k=lugs)
        groups = []
        while len(mixed) > 1 and rng.random() < 0.8:
            size = rng.choice((2, 2, 2, 3))
            group, mixed = mixed[:size], mixed[size:]
            if len(group) > 1:
                groups.append(group)
        table[str(detent + 1)] = groups
    table["1"] = table["1"] or [names[:2]]
    return table


def random_spec(rng: random.Random) -> Spec:
    """An original with a switch S on control K, some points and resistors, perhaps a switch T."""
    form = rng.choice(["SPDT", "SP3T", "DPDT", "2P3T"])
    positions = [f"P{n}" for n in range(FORMS[form][1])]
    points = [f"N{n}" for n in range(rng.randint(2, 4))]
    controls: Spec = {"K": positions}
    parts: Spec = {"S": {"switch": form, "control": "K", "timing": rng.choice(TIMINGS)}}
    ends = list(points)
    if rng.random() < 0.4:
        own = rng.random() < 0.6
        if own:
            controls["Q"] = ["Q0", "Q1"]
        kind = "SPDT" if own or len(positions) == 2 else "SP3T"
        parts["T"] = {"switch": kind, "control": "Q" if own else "K", "timing": rng.choice(TIMINGS)}
        ends += [f"T.{lug}" for lug in rng.sample(lugs_of(kind), k=2)]
    wires = [[f"S.{lug}", rng.choice(ends)] for lug in lugs_of(form) if rng.random() < 0.85]
    if "T" in parts:
        kind = parts["T"]["switch"]
        wires += [[f"T.{lug}", rng.choice(points)] for lug in lugs_of(kind) if rng.random() < 0.5]
    if rng.random() < 0.3:
        a, b = rng.sample(lugs_of(form), k=2)
        wires.append([f"S.{a}", f"S.{b}"])
    if len(points) > 2 and rng.random() < 0.4:
        between = rng.sample(points, k=2)
        parts["R1"] = {"resistor": "10 ohm", "between": between}
    spec: Spec = {
        "rewire": "1",
        "title": "random",
        "controls": controls,
        "points": {point: {} for point in points},
        "wirings": {
            "original": {"parts": parts, "wires": wires},
            "copy": {"parts": parts, "wires": wires},
        },
    }
    if "Q" in controls and rng.random() < 0.3:
        spec["never"] = [{"K": rng.choice(positions), "Q": rng.choice(["Q0", "Q1"])}]
    return spec


TIMINGS = ("non-shorting", "non-shorting", "shorting")


def random_offer(rng: random.Random, positions: int) -> Spec:
    """A switch in a drawer that may or may not do."""
    timing = rng.choice(TIMINGS)
    if rng.random() < 0.3:
        contacts = random_table(rng, rng.randint(3, 5), positions + rng.choice((0, 0, 1)))
        return {"switch": "table", "contacts": contacts, "timing": timing}
    forms = [f for f, (p, t) in FORMS.items() if t >= positions and p * (t + 1) <= 6]
    if positions == 2:
        forms.append("DPST")
    return {"switch": rng.choice(forms or ["SP3T"]), "timing": timing}


def read(spec: Spec) -> Model:
    """The checked model of a mapping."""
    return read_text(yaml.safe_dump(spec, sort_keys=False).encode(), "random.yaml")


def offer_of(written: Spec) -> Offer:
    """The offer that a drawer with one switch holds."""
    drawer = {"rewire_drawer": "1", "switches": [written]}
    return next(iter(offers_of_drawer(read_drawer_text(yaml.safe_dump(drawer).encode()))))
