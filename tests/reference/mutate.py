"""What people do to a wiring: drop a wire, turn a part round, fit another switch.

A draft starts as a copy of the original; each mutation changes it in place and
leaves a valid wiring. Some keep every tie, most do not.
"""

from __future__ import annotations

import copy
import random
from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from typing import Any

from tests.reference.circuit import control_positions, kind_of, lugs_of, pole_lugs, throws_at
from tests.reference.generate import (
    Part,
    Spec,
    Wires,
    add_wire,
    apart,
    chance,
    random_switch,
    random_values,
    terminals_of,
    with_timing,
)


@dataclass
class Draft:
    """A wiring being changed."""

    spec: Spec
    parts: dict[str, Part]
    wires: Wires
    first: Mapping[str, Part]
    """The parts of the original wiring."""
    count: int = 0
    replaced: set[str] = field(default_factory=set)

    def places(self) -> list[str]:
        """Everything a wire may end on."""
        return [*self.spec["points"], *terminals_of({**self.spec["parts"], **self.parts})]

    def fresh(self, prefix: str) -> str:
        """A reference that nothing bears yet."""
        self.count += 1
        return f"{prefix}{self.count + 20}"

    def rename(self, names: Mapping[str, str]) -> None:
        """Move wire ends from some terminals to others."""
        wires, self.wires = self.wires, []
        for a, b in wires:
            add_wire(self.wires, names.get(a, a), names.get(b, b))

    def drop_ends(self, name: str) -> None:
        """Take off all wires of a part."""
        mine = {f"{name}.{lug}" for lug in lugs_of(self.parts[name])}
        self.wires = [wire for wire in self.wires if not mine & set(wire)]

    def of_kind(self, *kinds: str) -> list[str]:
        """Parts of this wiring of some kinds, in order of names."""
        return sorted(name for name, part in self.parts.items() if kind_of(part) in kinds)

    def roles(self) -> list[str]:
        """Parts of this wiring that stand in the role of a part of the same name."""
        return [
            name
            for name in sorted(set(self.parts) & set(self.first))
            if kind_of(self.parts[name]) not in ("switch", "strip")
            and "replaces" not in self.parts[name]
            and name not in self.replaced
        ]


def drop_wire(rng: random.Random, draft: Draft) -> None:
    """A wire forgotten."""
    if draft.wires:
        draft.wires.pop(rng.randrange(len(draft.wires)))


def move_end(rng: random.Random, draft: Draft) -> None:
    """A wire landed on the wrong place."""
    if draft.wires:
        start, _ = draft.wires.pop(rng.randrange(len(draft.wires)))
        add_wire(draft.wires, start, rng.choice(draft.places()))


def another_wire(rng: random.Random, draft: Draft) -> None:
    """A wire too many."""
    add_wire(draft.wires, *rng.sample(draft.places(), 2))


def reroute(rng: random.Random, draft: Draft) -> None:
    """A wire moved along its own net: nothing changes."""
    if not draft.wires:
        return
    start, end = draft.wires.pop(rng.randrange(len(draft.wires)))
    same = [place for wire in draft.wires if end in wire for place in wire if place != start]
    add_wire(draft.wires, start, rng.choice([end, *same]))


def swap_ends(rng: random.Random, draft: Draft) -> None:
    """A part turned round, or two lugs of a switch or pot mixed up."""
    names = sorted({**draft.spec["parts"], **draft.parts})
    if not names:
        return
    name = rng.choice(names)
    lugs = lugs_of({**draft.spec["parts"], **draft.parts}[name])
    if len(lugs) > 1:
        a, b = (f"{name}.{lug}" for lug in rng.sample(lugs, 2))
        draft.rename({a: b, b: a})


def change_timing(rng: random.Random, draft: Draft) -> None:
    """The same switch, of another make."""
    switches = draft.of_kind("switch")
    if switches:
        name = rng.choice(switches)
        part = draft.parts[name]
        positions = control_positions(draft.spec, part["control"])
        draft.parts[name] = with_timing(rng, part, positions)


def change_style(rng: random.Random, draft: Draft) -> None:
    """The same plain form as a rotary, a slide or a toggle."""
    plain = [n for n in draft.of_kind("switch") if draft.parts[n]["switch"] != "table"]
    if plain:
        name = rng.choice(plain)
        draft.parts[name] = {**draft.parts[name], "style": rng.choice(["rotary", "slide", "push"])}


def skip_throws(rng: random.Random, draft: Draft) -> None:
    """A rotary or slide with more throws than positions, wired at those that are used."""
    plain = [n for n in draft.of_kind("switch") if draft.parts[n]["switch"] != "table"]
    plain = [n for n in plain if "lugs" not in draft.parts[n]]
    if not plain:
        return
    name = rng.choice(plain)
    old = draft.parts[name]
    positions = control_positions(draft.spec, old["control"])
    if len(pole_lugs(old)[0]) <= len(positions):
        return
    throws = len(pole_lugs(old)[0]) - 1 + rng.choice([1, 2])
    new = {
        **{key: old[key] for key in ("control", "timing") if key in old},
        "switch": f"{len(pole_lugs(old))}P{throws}T",
        "style": rng.choice(["rotary", "slide"]),
        "positions": apart(rng, positions, throws),
    }
    lugs = {
        f"{name}.{a[throw]}": f"{name}.{b[int(new['positions'][position])]}"
        for a, b in zip(pole_lugs(old), pole_lugs(new), strict=True)
        for position, throw in throws_at(old, positions).items()
    }
    draft.rename(lugs)
    draft.parts[name] = new
    if chance(rng, 0.6):
        place = f"{name}.{rng.choice(lugs_of(new))}"
        add_wire(draft.wires, place, rng.choice(sorted(draft.spec["points"])))


def likely_lugs(old: Part, new: Part) -> dict[str, str]:
    """Lug of an old plain form → the same pole and throw of a new one, where it has that."""
    if "table" in (old["switch"], new["switch"]):
        return {}
    return {
        lug: another
        for poles in zip(pole_lugs(old), pole_lugs(new), strict=False)
        for lug, another in zip(*poles, strict=False)
    }


def another_switch(rng: random.Random, draft: Draft) -> None:
    """Another form, lug for lug as well as it goes, under the old name or a new one."""
    switches = draft.of_kind("switch")
    if not switches:
        return
    name = rng.choice(switches)
    old = draft.parts[name]
    new = random_switch(rng, draft.spec, old["control"])
    known = likely_lugs(old, new)
    lugs = {lug: known.get(lug) or rng.choice(lugs_of(new)) for lug in lugs_of(old)}
    called = name if chance(rng, 0.6) else draft.fresh("S")
    draft.rename({f"{name}.{lug}": f"{called}.{another}" for lug, another in lugs.items()})
    del draft.parts[name]
    draft.parts[called] = new


def same_as_table(rng: random.Random, draft: Draft) -> None:
    """A plain form said as a table with the same lugs and contacts, timing as it was."""
    plain = [n for n in draft.of_kind("switch") if draft.parts[n]["switch"] != "table"]
    if not plain or chance(rng, 0.5):
        return
    name = rng.choice(plain)
    part = draft.parts[name]
    if isinstance(part.get("timing"), Mapping) or "ST" in part["switch"]:
        return
    positions = control_positions(draft.spec, part["control"])
    given = part.get("positions", {p: str(n + 1) for n, p in enumerate(positions)})
    contacts = {
        position: [[pole[0], pole[int(throw)]] for pole in pole_lugs(part)]
        for position, throw in given.items()
        if throw != "open"
    }
    if contacts:
        kept: Part = {key: part[key] for key in ("control", "timing") if key in part}
        draft.parts[name] = {
            "switch": "table",
            "lugs": lugs_of(part),
            "contacts": contacts,
            **kept,
        }


def insert_part(rng: random.Random, draft: Draft) -> None:
    """A part put into a wire: a test resistor, a fuse, a blocking capacitor."""
    if not draft.wires:
        return
    start, end = draft.wires.pop(rng.randrange(len(draft.wires)))
    name = draft.fresh("Z")
    kind = rng.choice(["resistor", "resistor", "resistor", "fuse", "capacitor", "diode", "pot"])
    part = random_values(rng, kind)
    draft.parts[name] = part
    a, b = (f"{name}.{lug}" for lug in rng.sample(lugs_of(part), 2))
    add_wire(draft.wires, start, a)
    add_wire(draft.wires, b, end)


def add_part(rng: random.Random, draft: Draft) -> None:
    """A part across two places, or with one end loose."""
    kind = rng.choice(["resistor", "resistor", "capacitor", "pot", "diode", "meter"])
    part = random_values(rng, kind)
    name = draft.fresh("Z")
    places = draft.places()
    draft.parts[name] = part
    for lug in lugs_of(part):
        if chance(rng, 0.8):
            add_wire(draft.wires, f"{name}.{lug}", rng.choice(places))


def link_points(rng: random.Random, draft: Draft) -> None:
    """One to three parts in series from a point to another, across what may be apart."""
    start, end = rng.sample(sorted(draft.spec["points"]), 2)
    count = rng.choice([1, 1, 2, 2, 3])
    for number in range(count):
        name = draft.fresh("Y")
        part = random_values(rng, rng.choice(["resistor", "resistor", "fuse", "diode", "lamp"]))
        draft.parts[name] = part
        first, second = (f"{name}.{lug}" for lug in rng.sample(lugs_of(part), 2))
        add_wire(draft.wires, start, first)
        start = second
        if number == count - 1:
            add_wire(draft.wires, second, end)


def added_beside(rng: random.Random, draft: Draft) -> None:
    """A part across another that is new, or that was there: undeclared, or beside a shunt."""
    names = [name for name in draft.parts if name[0] in "ZY"] or draft.roles()
    if not names:
        return
    beside = rng.choice(sorted(names))
    name = draft.fresh("Z")
    draft.parts[name] = random_values(rng, rng.choice(["resistor", "fuse", "capacitor"]))
    lugs = rng.sample(lugs_of(draft.parts[beside]), 2)
    for lug, end in zip(("1", "2"), lugs, strict=True):
        add_wire(draft.wires, f"{name}.{lug}", f"{beside}.{end}")


def insert_with_parallel(rng: random.Random, draft: Draft) -> None:
    """A part put into a wire, and now and then a second one across it."""
    insert_part(rng, draft)
    if chance(rng, 0.4):
        added_beside(rng, draft)


def change_value(rng: random.Random, draft: Draft) -> None:
    """A part of the same kind with another value, rating or polarity."""
    names = draft.roles()
    if names:
        name = rng.choice(names)
        old = draft.parts[name]
        kept = {key: told for key, told in old.items() if key == "between"}
        draft.parts[name] = {**random_values(rng, kind_of(old)), **kept}


def replace_whole(rng: random.Random, draft: Draft) -> None:
    """A meter or another part replaced by one of its kind under a new name."""
    names = draft.roles()
    if not names:
        return
    old = rng.choice([name for name in names if name == "M1"] or names)
    kind = kind_of(draft.parts[old])
    new = draft.fresh("M" if kind == "meter" else "Q")
    kept = {key: told for key, told in draft.parts[old].items() if key == "between"}
    draft.parts[new] = {**random_values(rng, kind), **kept, "replaces": old}
    lugs = lugs_of(draft.parts[new])
    turned = lugs[::-1] if chance(rng, 0.3) else lugs
    draft.rename({f"{old}.{a}": f"{new}.{b}" for a, b in zip(lugs, turned, strict=True)})
    del draft.parts[old]
    draft.replaced.add(old)


def replace_terminals(rng: random.Random, draft: Draft) -> None:
    """A part replaced terminal by terminal: by one or two parts of any kind, or half of it.

    One of its own kind may take the terminals crosswise.
    """
    names = [name for name in draft.roles() if kind_of(draft.parts[name]) != "pot"]
    if not names:
        return
    old = rng.choice(names)
    lugs = lugs_of(draft.parts[old])
    first, second = rng.sample(lugs, 2)
    one, two = draft.fresh("RV"), draft.fresh("RX")
    shape = rng.choice(["pot and resistor", "pot", "resistor", "half", "like", "like"])
    kinds = {"resistor": "resistor", "half": "resistor", "like": kind_of(draft.parts[old])}
    part = random_values(rng, kinds.get(shape, "pot"))
    ends = lugs_of(part)
    draft.parts[one] = {**part, "replaces": {ends[0]: f"{old}.{first}"}}
    landed = {f"{old}.{first}": f"{one}.{ends[0]}"}
    if shape == "pot and resistor":
        draft.parts[two] = {
            **random_values(rng, "resistor"),
            "replaces": {"2": f"{old}.{second}"},
        }
        landed[f"{old}.{second}"] = f"{two}.2"
        add_wire(draft.wires, f"{one}.wiper", f"{two}.1")
    elif shape != "half":
        draft.parts[one]["replaces"][ends[-1]] = f"{old}.{second}"
    landed.setdefault(f"{old}.{second}", f"{one}.{ends[-1]}")
    draft.rename(landed)
    del draft.parts[old]
    draft.replaced.add(old)


def promote(rng: random.Random, draft: Draft) -> None:
    """A part that stood elsewhere takes the place of another of its kind."""
    names = draft.roles()
    pairs = [
        (a, b)
        for a in names
        for b in names
        if a != b and kind_of(draft.parts[a]) == kind_of(draft.parts[b])
    ]
    if not pairs:
        return
    mover, gone = rng.choice(pairs)
    draft.drop_ends(mover)
    lugs = lugs_of(draft.parts[gone])
    draft.rename({f"{gone}.{lug}": f"{mover}.{lug}" for lug in lugs})
    draft.parts[mover] = {**draft.parts[mover], "replaces": gone}
    draft.replaced.update([mover, gone])
    del draft.parts[gone]


def remove_part(rng: random.Random, draft: Draft) -> None:
    """A part taken out, its wires with it or joined in its place."""
    names = sorted(name for name in draft.parts if kind_of(draft.parts[name]) != "switch")
    if not names:
        return
    name = rng.choice(names)
    lugs = lugs_of(draft.parts[name])
    ends = [p for wire in draft.wires for p in wire if p in [f"{name}.{lug}" for lug in lugs]]
    neighbours = [p for wire in draft.wires if set(wire) & set(ends) for p in wire if p not in ends]
    draft.drop_ends(name)
    if len(set(neighbours)) > 1 and chance(rng, 0.3):
        add_wire(draft.wires, *list(dict.fromkeys(neighbours))[:2])
    del draft.parts[name]
    draft.replaced.add(name)


MUTATIONS: tuple[tuple[int, Callable[[random.Random, Draft], None]], ...] = (
    (4, drop_wire),
    (4, move_end),
    (3, another_wire),
    (2, reroute),
    (4, swap_ends),
    (4, change_timing),
    (4, change_style),
    (4, skip_throws),
    (4, another_switch),
    (1, same_as_table),
    (6, insert_with_parallel),
    (1, add_part),
    (5, link_points),
    (2, added_beside),
    (2, change_value),
    (3, replace_whole),
    (2, replace_terminals),
    (1, promote),
    (2, remove_part),
)


def mutated(
    rng: random.Random, spec: Spec, parts: Mapping[str, Part], wires: Wires
) -> tuple[dict[str, Part], Wires]:
    """The original's parts and wires after none to four random mutations, and other timing."""
    draft = Draft(spec, copy.deepcopy(dict(parts)), copy.deepcopy(wires), parts)
    weights = [weight for weight, _ in MUTATIONS]
    todo: list[Any] = rng.choices(
        [m for _, m in MUTATIONS], weights, k=rng.choice([0, 0, 1, 1, 2, 3])
    )
    todo += [change_timing] * rng.choice([0, 1, 2, 3])
    for mutation in todo:
        mutation(rng, draft)
    return draft.parts, draft.wires
