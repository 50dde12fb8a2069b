"""What `make fuzz` tried, tried again; and seeds spoilt at random, where it cannot run."""

from __future__ import annotations

import json
from pathlib import Path

import pytest
from hypothesis import given, settings, strategies as st

from tests.fuzz.keep import KEPT
from tests.fuzz.readers import READERS, read_any, seeds, words

FOUND = Path(__file__).parent / "found"
SEEDS = list(seeds())
WORDS = sorted(word.encode() for word in words())
INPUTS: list[str] = json.loads(KEPT.read_text("ascii"))


def test_the_seeds_are_good_files_of_every_kind() -> None:
    good = [data for data in SEEDS if read_any(data) is None]
    assert len(good) >= len(SEEDS) // 2
    for mark in (*READERS, b"rewire: "):
        assert any(b"\n" + mark in b"\n" + data for data in good), mark


def test_what_was_kept_is_read_or_refused_with_places() -> None:
    refused = sum(read_any(text.encode("latin-1")) is not None for text in INPUTS)
    assert 0 < refused <= len(INPUTS)
    assert len(INPUTS) >= 100


@pytest.mark.parametrize("path", sorted(FOUND.iterdir()), ids=lambda path: path.name)
def test_what_once_broke_a_reader_is_refused(path: Path) -> None:
    assert read_any(path.read_bytes()) is not None


@settings(max_examples=60)
@given(data=st.data())
def test_seeds_spoilt_at_random_are_read_or_refused_with_places(data: st.DataObject) -> None:
    text = data.draw(st.sampled_from(SEEDS))
    for _ in range(data.draw(st.integers(1, 4))):
        at = data.draw(st.integers(0, len(text)))
        end = at + data.draw(st.integers(0, 20))
        other = data.draw(st.sampled_from(SEEDS))
        start = data.draw(st.integers(0, len(other)))
        put = data.draw(
            st.sampled_from(WORDS)
            | st.binary(max_size=4)
            | st.just(other[start : start + 40])
            | st.just(text[at:end] * 2)
        )
        text = text[:at] + put + text[end:]
    read_any(text)


def test_a_refusal_that_lacks_something_is_noticed(monkeypatch: pytest.MonkeyPatch) -> None:
    from rewire.reading import Fault, SpecError
    from rewire.records.part import Place
    from tests.fuzz import readers

    for fault in (
        Fault(Place("any.yaml", 0, 1), "no such line"),
        Fault(Place("other.yaml", 1, 1), "another file"),
        Fault(Place("any.yaml", 1, 1), ""),
        Fault(Place("any.yaml", 1, 1), "a bell: \a"),
    ):

        def refuse(_: bytes, fault: Fault = fault) -> None:
            raise SpecError([fault])

        monkeypatch.setattr(readers, "_spec", refuse)
        with pytest.raises(AssertionError):
            read_any(b"rewire: 1\n")
