"""Fitting by trying every landing there is. Knows nothing of the program's own layers.

Take the switch out, with every jumper and net of its lugs alone;
what is left of its nets are stubs; a landing puts every lug on some net or none, and every stub
on one of these nets or none; in every state the ties among stubs are those of the original.
"""

from __future__ import annotations

import itertools
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from typing import Any

from tests.fit.rigs import FORMS, LETTERS

Spec = dict[str, Any]
Contacts = list[list[list[str]]]
"""Per detent the groups of lugs closed."""


class Sets:
    """Disjoint sets, the plainest way."""

    def __init__(self) -> None:
        self.of: dict[Any, set[Any]] = {}

    def join(self, items: Iterable[Any]) -> None:
        whole: set[Any] = set()
        for item in items:
            whole |= self.of.get(item, {item})
        for item in whole:
            self.of[item] = whole

    def get(self, item: Any) -> set[Any]:
        return self.of.get(item, {item})

    def together(self, items: Sequence[Any]) -> tuple[int, ...]:
        """Per item the index of the first item in its set."""
        return tuple(
            next(i for i, other in enumerate(items) if other in self.get(item)) for item in items
        )


def contacts_of(part: Spec) -> tuple[list[str], Contacts]:
    """Lugs, and per detent what is closed."""
    if part["switch"] == "table":
        detents = [list(groups) for groups in part["contacts"].values()]
        lugs = part.get("lugs") or sorted({g for d in detents for group in d for g in group})
        return list(lugs), detents
    poles, throws = FORMS[part["switch"]]
    lugs = [f"{LETTERS[p]}{t or ''}" for p in range(poles) for t in range(throws + 1)]
    closed = [
        [[LETTERS[p], f"{LETTERS[p]}{t}"] for p in range(poles)] for t in range(1, throws + 1)
    ]
    return lugs, [*closed, []] if throws == 1 else closed


def states(spec: Spec) -> Iterator[dict[str, str]]:
    for at in itertools.product(*spec["controls"].values()):
        state = dict(zip(spec["controls"], at, strict=True))
        if not any(item.items() <= state.items() for item in spec.get("never", [])):
            yield state


@dataclass
class Bare:
    """The original without the switch: its stubs, and per state what must come out."""

    stubs: list[frozenset[str]]
    asked: list[tuple[int, tuple[int, ...], tuple[int, ...]]]
    """Position of the control, ties that are there already, ties that must be."""


def bare_of(spec: Spec, name: str = "S") -> Bare:
    original = spec["wirings"]["original"]
    nets = Sets()
    joints = [*original.get("wires", []), *original.get("nets", [])]
    for part_name, part in original["parts"].items():
        if "between" in part:
            joints += [
                [f"{part_name}.1", part["between"][0]],
                [f"{part_name}.2", part["between"][1]],
            ]
    for joint in joints:
        nets.join(joint)
    lugs = [f"{name}.{lug}" for lug in contacts_of(original["parts"][name])[0]]
    stubs = {frozenset(nets.get(lug) - set(lugs)) for lug in lugs} - {frozenset()}
    ordered = sorted(stubs, key=sorted)
    firsts = [min(stub) for stub in ordered]
    left = [[end for end in joint if end not in lugs] for joint in joints]
    asked = []
    for state in states(spec):
        outside, whole = Sets(), Sets()
        for joint in (*ordered, *left, *closed_at(spec, state, without=name)):
            outside.join(joint)
        for joint in (*ordered, *joints, *closed_at(spec, state)):
            whole.join(joint)
        position = spec["controls"]["K"].index(state["K"])
        asked.append((position, outside.together(firsts), whole.together(firsts)))
    return Bare(ordered, sorted(set(asked)))


def hardwired(bare: Bare) -> Bare:
    """With a plain wire between all stubs that every state connects anyway."""
    keys = list(zip(*(wanted for _, _, wanted in bare.asked), strict=True))
    kept = [n for n, key in enumerate(keys) if keys.index(key) == n]
    stubs = [frozenset().union(*(s for s, k in zip(bare.stubs, keys, strict=True) if k == keys[n]))
             for n in kept]  # fmt: skip
    asked = []
    for position, given, wanted in bare.asked:
        sets = Sets()
        for labels in (given, keys):
            for n, label in enumerate(labels):
                sets.join([n, labels.index(label)])
        asked.append((position, sets.together(kept), tuple(_anew([wanted[n] for n in kept]))))
    return Bare(stubs, sorted(set(asked)))


def _anew(labels: Sequence[int]) -> Iterator[int]:
    """The same groups, each called by its first member."""
    for label in labels:
        yield labels.index(label)


def closed_at(spec: Spec, state: dict[str, str], without: str = "") -> Iterator[list[str]]:
    """Groups of terminals that the original's switches close in a state."""
    for name, part in spec["wirings"]["original"]["parts"].items():
        if "switch" in part and name != without:
            control = spec["controls"][part["control"]]
            for group in contacts_of(part)[1][control.index(state[part["control"]])]:
                yield [f"{name}.{lug}" for lug in group]


@dataclass(frozen=True)
class Landing:
    """Blocks of lugs, and per stub the number of its block, or None."""

    blocks: tuple[tuple[str, ...], ...]
    lands: tuple[int | None, ...]
    way: tuple[int, ...]

    @property
    def cost(self) -> tuple[int, int]:
        connections = sum(block is not None for block in self.lands)
        return connections, sum(len(block) - 1 for block in self.blocks)


def partitions(lugs: Sequence[str]) -> Iterator[tuple[tuple[str, ...], ...]]:
    """Every way to put some of the lugs into blocks."""
    if not lugs:
        yield ()
        return
    first, rest = lugs[0], lugs[1:]
    for blocks in partitions(rest):
        yield blocks
        yield ((first,), *blocks)
        for n, block in enumerate(blocks):
            yield (*blocks[:n], (first, *block), *blocks[n + 1 :])


def ways(offer: Spec, positions: int) -> list[tuple[int, ...]]:
    """Consecutive detents in order; a form of one throw either way round."""
    detents = len(contacts_of(offer)[1])
    found = [tuple(range(s, s + positions)) for s in range(detents - positions + 1)]
    if offer["switch"] in FORMS and FORMS[offer["switch"]][1] == 1:
        found += [tuple(reversed(way)) for way in found]
    return found


def landings(spec: Spec, bare: Bare, offer: Spec) -> Iterator[Landing]:
    """Every landing that is right at rest. (A net with one lug and no stub is a spare lug.)"""
    lugs, detents = contacts_of(offer)
    choices = ways(offer, len(spec["controls"]["K"]))
    for blocks in partitions(lugs):
        links = [_linked(blocks, closed) for closed in detents]
        lonely = {n for n, block in enumerate(blocks) if len(block) == 1}
        for lands in itertools.product([None, *range(len(blocks))], repeat=len(bare.stubs)):
            if not lonely <= set(lands):
                continue
            for way in choices:
                if all(
                    _whole(links[way[position]], lands, given) == wanted
                    for position, given, wanted in bare.asked
                ):
                    yield Landing(blocks, lands, way)


def _linked(blocks: Sequence[Sequence[str]], closed: list[list[str]]) -> list[int]:
    """Per block the lowest block that contacts link it to; spare lugs link, too."""
    sets = Sets()
    for n, block in enumerate(blocks):
        sets.join([n, *block])
    for group in closed:
        sets.join(group)
    return [min(x for x in sets.get(n) if isinstance(x, int)) for n in range(len(blocks))]


def _whole(
    links: list[int], lands: Sequence[int | None], given: tuple[int, ...]
) -> tuple[int, ...]:
    label = list(given)
    home: dict[int, int] = {}
    for stub, block in enumerate(lands):
        if block is None:
            continue
        known = home.setdefault(links[block], label[stub])
        if known != label[stub]:
            old, new = max(known, label[stub]), min(known, label[stub])
            label = [new if x == old else x for x in label]
            home = {k: new if x == old else x for k, x in home.items()}
    first: dict[int, int] = {}
    return tuple(first.setdefault(x, i) for i, x in enumerate(label))


def with_landing(spec: Spec, bare: Bare, offer: Spec, landing: Landing) -> Spec:
    """The spec with the landing as wiring ``substitute``, written anew from its definition."""
    original = spec["wirings"]["original"]
    lugs, detents = contacts_of(offer)
    positions = spec["controls"]["K"]
    contacts = {at: detents[d] for at, d in zip(positions, landing.way, strict=True) if detents[d]}
    new = {"switch": "table", "control": "K", "lugs": lugs, "contacts": contacts}
    new["timing"] = offer["timing"]
    parts = {n: dict(p) for n, p in original["parts"].items() if n != "S"}
    nets = [sorted(stub) for stub in bare.stubs if len(stub) > 1]
    gone = [end for wire in original["wires"] for end in wire if end.startswith("S.")]
    wires = [w for w in original["wires"] if not {*w} & {*gone}]
    for n, block in enumerate(landing.blocks):
        ends = [min(s) for s, at in zip(bare.stubs, landing.lands, strict=True) if at == n]
        net = [*(f"X.{lug}" for lug in block), *ends]
        nets += [net] if len(net) > 1 else []
    wiring = {"parts": {**parts, "X": new}, "nets": nets, "wires": wires}
    return {**spec, "wirings": {"original": original, "substitute": wiring}}
