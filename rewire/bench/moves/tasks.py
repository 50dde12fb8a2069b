"""The lines of a spec's own procedure, by what they do: where they stand in the order of work."""

from __future__ import annotations

import re
from collections.abc import Iterator
from dataclasses import replace
from typing import Literal

from rewire.records.spec import Pot, Task, Wiring

Deed = Literal["live", "unplug", "wait", "open", "discharge", "prove", "other", "label"]
Phase = Literal["dead", "set", "power"]

_DEEDS: tuple[tuple[Deed, str], ...] = (
    ("live", r"(line up|under power|with the set (on|running)|switched on|write down what)"),
    ("unplug", r"(unplug|(pull|draw|take|remove|disconnect|cut|switch)\b.*"
     r"\b(plugs?|mains|batter\w*|valves?|supply|supplies|fuses?|off the set)\b|switch off)"),
    ("wait", r"(wait|let\b.*\b(cool|bleed|run down))"),
    ("open", r"(open|take off|lift off|remove|unscrew)\b.*"
     r"\b(cover|case|lid|back|bottom|cabinet|panel|box|set)\b"),
    ("discharge", r"(discharge|bleed|(short|earth|ground)\b.*"
     r"\b(capacitors?|bank|reservoir|supply|anodes?|plates?)\b|.*\bstick\b)"),
    ("prove", r"(prove|(measure|check|see)\b.*\b(nothing is left|dead|no volts|empty|0 v)\b)"),
    ("label", r"(label|mark|tag|photograph|sketch)\b"),
)  # fmt: skip
"""How a clause begins, in small letters, that does a deed; the first that fits holds."""
_CUTS = ("unplug", "wait", "open", "discharge", "prove")
"""Deeds that have their place in the order of making safe, wherever in a line they stand."""
_CLAUSE = re.compile(r"(,? then |, and |[,;] | and )")
_POWERED = re.compile(
    r"power (it )?up|(switch|power|turn)(ed)? (it |the set )?on\b|plug (it )?in\b|feed |"
    r"known load|\bwatch |\blisten|\bheard?\b|press the key|\bkey |compare .* with|at rest|"
    r"lamp go|fit the valves|under power|while (it is )?running|full output|drive "
)
_DEAD = re.compile(
    r"\bbuzz|ohmmeter|ohms? range|continuity|plug (is )?out|power off|unplugged|set off|"
    r"before the (plug|mains|power)|without power"
)


def deeds_of(task: Task) -> Iterator[tuple[Deed, Task]]:
    """A line of what comes before the work, cut where it goes on to another deed.

    A caution stands with the last piece, which is what it leads up to.
    """
    words = _CLAUSE.split(task.do)
    pieces: list[tuple[Deed, str]] = []
    for number in range(0, len(words), 2):
        deed = _deed(words[number])
        joint = words[number - 1] if number else ""
        if pieces and (deed not in _CUTS or deed == pieces[-1][0]):
            pieces[-1] = (pieces[-1][0], pieces[-1][1] + joint + words[number])
        else:
            pieces.append((deed, words[number]))
    last = len(pieces) - 1
    for number, (deed, text) in enumerate(pieces):
        yield deed, replace(task, do=text, caution=task.caution if number == last else None)


def _deed(clause: str) -> Deed:
    text = clause.strip().lower()
    return next((deed for deed, begins in _DEEDS if re.match(begins, text)), "other")


def phases_of(tasks: tuple[Task, ...], wiring: Wiring) -> dict[Phase, list[Task]]:
    """The lines of what comes after the work: with the power off, settings of pots, with power on.

    A line that says neither stays before what needs power, unless it follows that. With the power
    off *again* is after it was on.
    """
    found: dict[Phase, list[Task]] = {"dead": [], "set": [], "power": []}
    for task in tasks:
        found[_phase(task, wiring, begun=bool(found["power"]))].append(task)
    return found


def _phase(task: Task, wiring: Wiring, *, begun: bool) -> Phase:
    text = task.do.lower()
    if pot_set_by(task, wiring) is not None and not _POWERED.search(text):
        return "set"
    if _DEAD.search(text):
        return "power" if begun and re.search(r"\bagain\b", text) else "dead"
    return "power" if begun or _POWERED.search(text) else "dead"


def pot_set_by(task: Task, wiring: Wiring) -> str | None:
    """The pot of a wiring that a line sets."""
    match = re.match(r"(set|adjust|trim|preset)\b(.*)", task.do.lower())
    pots = [name for name, part in wiring.parts.items() if isinstance(part, Pot)]
    words = re.findall(r"\w+", match[2]) if match else []
    return next((name for name in pots if name.lower() in words), None)


def says_lamp(tasks: tuple[Task, ...]) -> bool:
    """Whether a line already asks for a lamp or a variable transformer in the mains."""
    said = " ".join(task.do.lower() for task in tasks)
    return bool(re.search(r"lamp in series|series lamp|variable transformer|through a lamp", said))
