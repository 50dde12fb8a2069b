"""A ledger for each test; what it compared is told at the end of the run."""

from collections.abc import Callable, Iterator

import pytest

from tests.simulator.ledger import Ledger


@pytest.fixture
def ledger(record_property: Callable[[str, object], None]) -> Iterator[Ledger]:
    book = Ledger()
    yield book
    record_property("simulated", [book.compared, book.worst, book.by_fractions])
