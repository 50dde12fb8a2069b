"""A tag stands for one wire, from its label on the old lug to the drawing of the finished set.

Checked against the steps worked through: which wire is which follows from the ids of either wiring,
which are unique in that wiring alone.
"""

from __future__ import annotations

import random
import re
from collections.abc import Iterator
from itertools import permutations
from pathlib import Path
from typing import Any

import pytest

from rewire.bench.moves import moves_of
from rewire.bench.work_list import Moves
from rewire.records.spec import Spec
from tests.bench.shipped import SPECS, shipped, shipped_moves
from tests.reading.builders import read
from tests.reference.strategies import random_spec

Piece = tuple[str, str]
"""A piece of wire: ("there", its id in the first wiring) or ("cut", its id in the second)."""


def told(moves: Moves) -> Iterator[tuple[Piece, str | None, str]]:
    """Each piece, its tag, and the words in which a step or a line speaks of it."""
    for step in moves.steps:
        if step.kind in ("lift", "land", "wire") and not f"{step.wire}".startswith("lead "):
            piece = ("there", step.wire) if step.wire else ("cut", step.becomes or "")
            yield piece, step.tag, step.text
            yield (
                piece,
                step.tag,
                f"wire {f'{step.short}'.removeprefix('jumper ').partition(',')[0]}",
            )
    for stay in moves.stays:
        if not f"{stay.wire or stay.becomes}".startswith("lead "):
            piece = ("there", stay.wire) if stay.wire else ("seen", stay.becomes or "")
            yield piece, stay.tag, f"wire {stay.told}"


def assert_one_tag_one_wire(spec: Spec, moves: Moves) -> None:
    pieces: dict[str, Piece] = {tag: ("there", wire) for wire, tag in moves.tags.items()}
    source, target = spec.wirings[moves.source], spec.wirings[moves.target]
    assert len(pieces) == len(moves.tags) == len((*source.wires, *source.cut_wires))
    for piece, tag, words in told(moves):
        assert tag is not None
        assert pieces.setdefault(tag, piece) == piece, f"{tag} is on {pieces[tag]} and on {piece}"
        assert re.search(rf"\b(wire|jumper) (to [^:]*: .*\b)?{tag}\b", words), (tag, words)
        numbers = re.findall(r"\b([WJXK]\d+)\b(?!\.)", words)
        assert set(numbers) == {tag}, words
    ids = {wire.id for wire in (*target.wires, *target.cut_wires)}
    kept = {tag for tag, piece in pieces.items() if tag[0] not in "XK"}
    assert kept <= ids
    for step in moves.steps:
        if step.becomes in ids and not f"{step.wire}".startswith("lead "):
            assert step.tag == step.becomes


@pytest.mark.parametrize("path", SPECS, ids=lambda path: path.stem)
def test_shipped_specs_from_every_wiring_to_every_other(path: Path) -> None:
    spec = shipped(path)
    for source, target in permutations(spec.wirings, 2):
        assert_one_tag_one_wire(spec, shipped_moves(path, source, target))


def test_random_pairs_whose_numbers_clash() -> None:
    clashes = 0
    for seed in range(25):
        rng = random.Random(seed)
        drawn = random_spec(rng, size=seed % 3)
        for wiring in drawn["wirings"].values():
            rng.shuffle(wiring.get("wires", []))
        spec = read(drawn)
        for source, target in (("original", "substitute"), ("substitute", "original")):
            moves = moves_of(spec, source, target)
            assert_one_tag_one_wire(spec, moves)
            clashes += sum(tag != wire for wire, tag in moves.tags.items())
    assert clashes > 30


def shifted() -> Spec:
    """As it went on a bench: a wire goes in before the others, and every number moves on by one."""
    wires: list[Any] = [["A", "S1.A", "RD"], ["B", "S1.A1", "BK"], ["C", "S1.A2", "BU"]]
    return read({
        "rewire": "1", "title": "numbers", "controls": {"K": ["P", "Q"]},
        "points": {"A": {}, "B": {}, "C": {}, "D": {"chassis": "yes"}},
        "wirings": {
            "original": {"parts": {"S1": {"switch": "SPDT", "control": "K"}}, "wires": wires},
            "other": {
                "parts": {"S1": {"switch": "DPDT", "control": "K"}},
                "wires": [["D", "S1.B", "GN"], *wires],
            },
        },
    })  # fmt: skip


def test_where_all_numbers_move_on_by_one_no_two_wires_are_called_alike() -> None:
    moves = moves_of(shifted(), "original", "other")
    assert moves.tags == {"W1": "W2", "W2": "W3", "W3": "W4"}
    label = next(step for step in moves.steps if step.kind == "label")
    assert label.text.endswith(": W2 RD, W3 BK, W4 BU")
    new = next(step for step in moves.steps if step.kind == "wire")
    assert (new.tag, new.colour) == ("W1", "GN")
    landed = {step.tag for step in moves.steps if step.kind == "land"}
    assert landed == {"W2", "W3", "W4"}
