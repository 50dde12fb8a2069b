"""Every record of worked.py and known.py: our figure against the published one.

The page gallery/published.md is made of the same records.
"""

from __future__ import annotations

from typing import get_args

import pytest

from tests.published.page import HOW, PAGE, published_page, records
from tests.published.record import EXACT, Known, Record
from tests.published.worked import BY_ID, EXAMPLES, OURS, answered

RECORDS = records()


@pytest.mark.parametrize("record", RECORDS, ids=lambda record: f"{record.topic}: {record.what}")
def test_record(record: Record) -> None:
    ours = record.ours()
    if isinstance(record.published, str) or isinstance(ours, str):
        assert ours == record.published
        return
    if record.exact is not None:
        assert ours == pytest.approx(record.exact, rel=EXACT)
    near = abs(ours - record.published) <= record.within
    # A print that is known to be off, and is not, would be a mistake in the record.
    assert near == (record.departs is None), (ours, record.published, record.within)


@pytest.mark.parametrize(
    "name", [e["id"] for e in EXAMPLES if e["topic"] in OURS and answered(e["id"])]
)
def test_every_figure_of_an_example_is_what_exact_arithmetic_gives(name: str) -> None:
    """Also those on the way to the answer, which were not printed."""
    exact, ours = BY_ID[name]["recomputed"], answered(name)
    shared = (exact.keys() & ours.keys()) - {"alpha_per_K"}
    assert shared or "alpha_per_K" in ours
    for key in shared:
        assert ours[key] == pytest.approx(exact[key], rel=EXACT), key


def test_every_printed_figure_is_a_record_but_those_that_are_no_question_to_the_program() -> None:
    left = {(e["id"], key) for e in EXAMPLES if e["topic"] in OURS for key in e["answer"]}
    left -= {
        (name, key) for name in BY_ID if BY_ID[name]["topic"] in OURS for key in answered(name)
    }
    assert {key for name, key in left if name != "vu-ballistics-and-scale"} == {"hot_copper_ohms"}


def test_where_it_is_from_is_said() -> None:
    assert all(record.source.strip() and record.what.strip() for record in RECORDS)
    assert {record.known for record in RECORDS} == set(get_args(Known))
    read = ("seen in print", "standard seen", "worksheet to the book", "secondary copy")
    assert 2 * sum(record.known in read for record in RECORDS) > len(RECORDS)
    assert len({(r.topic, r.source, r.what) for r in RECORDS}) == len(RECORDS)


def test_the_page_is_current() -> None:
    assert PAGE.read_text("utf-8") == published_page(), HOW
