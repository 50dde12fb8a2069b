"""A buzz-out is read as it was written on the bench, and what is wrong is told with its place."""

from __future__ import annotations

import itertools
import random

import pytest

from rewire.reading import SpecError
from rewire.reading.buzzout import read_buzzout, read_buzzout_text, switch_of


def closed_by_hand(lugs: list[str], pairs: list[tuple[str, str]]) -> set[frozenset[str]]:
    """Reference: repaint lugs until no pair has two colours."""
    colour = {lug: number for number, lug in enumerate(lugs)}
    for _ in lugs:
        for a, b in pairs:
            colour[a] = colour[b] = min(colour[a], colour[b])
    groups = [frozenset(g) for g in ({x for x in lugs if colour[x] == c} for c in range(len(lugs)))]
    return {group for group in groups if len(group) > 1}


@pytest.mark.parametrize("seed", range(20))
def test_pairs_as_buzzed_become_groups(seed: int) -> None:
    rng = random.Random(seed)
    lugs = [f"L{n}" for n in range(rng.randint(2, 9))]
    detents = [
        rng.sample(list(itertools.combinations(lugs, 2)), k=rng.randint(0, min(4, len(lugs) - 1)))
        for _ in range(rng.randint(2, 6))
    ]
    lines = [f"  d{n}: [{', '.join(f'[{a}, {b}]' for a, b in d)}]" for n, d in enumerate(detents)]
    text = f"rewire_switch: 1\nlugs: [{', '.join(lugs)}]\ndetents:\n" + "\n".join(lines)
    read = read_buzzout_text(text.encode())
    assert read.detents == tuple(f"d{n}" for n in range(len(detents)))
    for groups, pairs in zip(read.closed, detents, strict=True):
        assert {frozenset(group) for group in groups} == closed_by_hand(lugs, pairs)
    switch = switch_of(read, "found")
    assert set(switch.terminals) == set(lugs)
    for detent in range(len(detents)):
        of_sections = {frozenset(g) for s in switch.sections for g in s.groups[detent]}
        assert of_sections == {frozenset(group) for group in read.closed[detent]}
    owners = [lug for section in switch.sections for lug in section.lugs] + [*switch.idle_lugs]
    assert sorted(owners) == sorted(lugs)


def test_detents_as_a_list_are_counted_from_one() -> None:
    read = read_buzzout_text(b"rewire_switch: 1\nlugs: [1, 2, 3]\ndetents: [[[1, 2]], [], [[1,3]]]")
    assert read.detents == ("1", "2", "3")
    assert read.closed == ((("1", "2"),), (), (("1", "3"),))


@pytest.mark.parametrize(
    ("text", "place", "word"),
    [
        ("lugs: [1, 2]", "1:1", "rewire_switch: 1"),
        ("rewire_switch: 2", "1:1", "rewire_switch: 1"),
        ("rewire_switch: 1\nlugs: [1, 2]", "1:1", "detents"),
        ("rewire_switch: 1\nlugs: 4\ndetents: [[], []]", "2:7", "list of lugs"),
        ("rewire_switch: 1\nlugs: [1, 1]\ndetents: [[], []]", "2:7", "twice"),
        ("rewire_switch: 1\nlugs: [A, B]\ndetents: [[[A, C]], []]", "3:12", "no lug 'C'"),
        ("rewire_switch: 1\nlugs: [A, B]\ndetents: [[[A]], []]", "3:12", "one lug"),
        ("rewire_switch: 1\nlugs: [A, B]\ndetents: [[A, B], []]", "3:12", "group of lugs"),
        ("rewire_switch: 1\nlugs: [A, B]\ndetents: [[]]", "3:10", "two detents"),
        ("rewire_switch: 1\nlugs: [A, B]\ndetents: [[], []]\ntiming: quick", "4:9", "timing"),
        ("rewire_switch: 1\nlugs: [A, B]\ndetents: [[], []]\nlug: 3", "4:1", "nearest is 'lugs'"),
        (
            "rewire_switch: 1\nlugs: [A, B]\ndetents: [[], []]\nrating: {volts: 3 A}",
            "4:17",
            "volts",
        ),
        ("rewire_switch: 1\nlugs: [A, B]\ndetents: {1: [], 1: []}", "3:18", "twice"),
        ("rewire_switch: 1\n\tlugs: [A, B]", "2:1", "tab"),
    ],
)
def test_what_is_wrong_is_told_with_its_place(text: str, place: str, word: str) -> None:
    with pytest.raises(SpecError) as caught:
        read_buzzout_text(text.encode(), "found.yaml")
    said = str(caught.value)
    assert f"found.yaml:{place}:" in said
    assert word in said


def test_a_file_that_is_not_there_is_told() -> None:
    with pytest.raises(SpecError, match="cannot be read"):
        read_buzzout("/nowhere/at-all.yaml")
