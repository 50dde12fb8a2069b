"""The time that a search may take."""

from __future__ import annotations

import threading
import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass, field


class OutOfTime(Exception):
    """The time that was given is over."""


@dataclass(slots=True)
class Clock:
    """The time that a search may take; None is without limit."""

    seconds: float | None = None
    start: float = field(default_factory=time.monotonic)

    def left(self) -> float | None:
        """Seconds that are left."""
        if self.seconds is None:
            return None
        return max(0.0, self.seconds - (time.monotonic() - self.start))

    @contextmanager
    def ending(self, interrupt: Callable[[], None]) -> Iterator[None]:
        """Call ``interrupt`` when the time is over, if that is before the end of the block.

        Raises:
            OutOfTime: it is over already.
        """
        left = self.left()
        if left is None:
            yield
            return
        if left == 0.0:
            raise OutOfTime
        timer = threading.Timer(min(left, threading.TIMEOUT_MAX), interrupt)
        timer.start()
        try:
            yield
        finally:
            timer.cancel()
            timer.join()
