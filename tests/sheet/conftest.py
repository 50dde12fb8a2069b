"""What tests of the packet share."""

import pytest

from rewire.draw.scene import Scene
from rewire.report import contents


@pytest.fixture
def blank_cards(monkeypatch: pytest.MonkeyPatch) -> None:
    """A card is one page, which tests/draw looks at; drawing it takes most of a packet's time."""
    monkeypatch.setattr(contents, "card_pages", lambda *_: (Scene(210.0, 297.0, (), "card"),))
