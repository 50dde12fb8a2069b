"""No search for garbage while much is built that holds no circles."""

from __future__ import annotations

import gc
from collections.abc import Iterator
from contextlib import contextmanager


@contextmanager
def no_collecting() -> Iterator[None]:
    """Leave circles where they are for a while: looking for some takes up to half of the time.

    A spec of a million nodes and the places and links of a large comparison hold none.
    """
    was_on = gc.isenabled()
    gc.disable()
    try:
        yield
    finally:
        if was_on:
            gc.enable()
