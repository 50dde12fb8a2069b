"""A number within limits, as an option takes it."""

from __future__ import annotations

import math
from typing import Any

import click


class Between(click.FloatRange):
    """Like click's range of numbers; refuses what is no number, which click lets through."""

    def convert(self, value: Any, param: click.Parameter | None, ctx: click.Context | None) -> Any:
        """The number, or a refusal that says what is wanted."""
        number = super().convert(value, param, ctx)
        if not math.isfinite(number):
            self.fail(f"{value} is no such number; give one in the range {self._describe_range()}.")
        return number
