"""A question of the interview: what is asked, and how an answer is read."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from functools import cache
from importlib import resources
from typing import Any

import yaml

from rewire.bench.told import answered
from rewire.records.keys import YES_OR_NO, word

CAUTION = (
    "Before a probe goes on anything: plug out, batteries off, capacitors discharged through a "
    "resistor, and all of that proved with a meter. Capacitors keep their charge."
)


@dataclass(frozen=True, slots=True)
class Question:
    """What is asked, and how an answer is read."""

    asks: str
    read: Callable[[str], Any] = str
    """What an answer means; raises ``Wrong``."""
    known: tuple[str, ...] = ()
    """Words that may be meant, for completing them."""
    default: str = ""
    """What an empty answer stands for."""
    help: str = ""
    caution: str = ""


@cache
def _texts() -> dict[str, dict[str, str]]:
    text = resources.files(__package__).joinpath("questions.yaml").read_text("utf-8")
    found: dict[str, dict[str, str]] = yaml.safe_load(text)
    return found


def question(key: str, read: Callable[[str], Any] = str, /, **names: object) -> Question:
    """The question of a key of ``questions.yaml``, with names put in."""
    told = _texts()[key]
    return Question(told["asks"].format(**names), read, help=told.get("help", ""))


def choice(one: Question, known: Sequence[str], default: str = "") -> Question:
    """The same question, answered by one of some words."""
    asks = f"{one.asks} {' / '.join(known)}"
    return replace(one, asks=asks, read=word(*known).read, known=tuple(known), default=default)


def yes_or_no(key: str, default: str, /, **names: object) -> Question:
    """A question that is answered by yes or no; one without a default must be answered."""
    one = question(key, lambda text: YES_OR_NO.read(answered(text)), **names)
    return replace(one, asks=f"{one.asks} yes / no", known=("yes", "no"), default=default)


def proposing(one: Question, default: str, known: Sequence[str] = ()) -> Question:
    """The same question with what an empty answer stands for, and words that may be meant."""
    return replace(one, default=default, known=tuple(known))
