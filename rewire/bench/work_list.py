"""What a list of moves holds: what stays, and the steps in order.

A place is a terminal or point as the spec writes it. The places of ``lift``, ``free`` and
``take-out`` are places of the first wiring, all others are places of the second. That matters
where a part is swapped for another of the same reference: then the two wirings call two
different things ``S1.A``; the texts say 'old S1.A' and 'new S1.A'.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Literal

from rewire.records.spec import ChangeKind
from rewire.values.sources import LugVolts

Stage = Literal[
    "safe", "record", "lift", "remove", "found", "jumpers", "parts", "wires", "after", "set",
    "power",
]  # fmt: skip
STAGES: Mapping[Stage, str] = {
    "safe": "Make it safe",
    "record": "Put on record, before anything is lifted",
    "lift": "Lift, both ends labelled with lug and number",
    "remove": "Take out",
    "found": "Also found on the bench",
    "jumpers": "Jumpers, on a new part before it is mounted",
    "parts": "Parts",
    "wires": "Wires, from the deck nearest the knob to the rear one",
    "after": "After the wiring, power still off",
    "set": "After the wiring, power still off",
    "power": "Power on",
}
"""In the order of work; stages called alike are told as one."""

DO_NOT_BUILD = "does not do what the original did; do not build it. rewire check says what is lost"

Kind = Literal[
    "safety", "task", "label", "photograph", "measure", "lift", "free", "take-out", "found",
    "land", "wire", "lead", "join", "mount", "shift", "set",
]  # fmt: skip
"""``lift``: one end of one known wire off its lug, ``destination`` None if it comes out.
``free``: a lug off whatever joins it to ``partners``, where only a net is known.
``take-out``: a part, and the wires of ``leaves_with`` with it. ``mount``: a part in.
``land``: a lifted end on; without ``becomes`` it makes a join that the second wiring knows only
as part of a net. ``wire``: a new wire or jumper between ``place`` and ``destination``.
``lead``: a part's own lead on. ``join``: ``place`` to any of ``partners``, where only a net is
known. ``shift``: a part that stays but sits elsewhere."""
OF_OLD: tuple[Kind, ...] = ("lift", "free", "take-out")
"""Kinds of steps that speak of the first wiring."""


@dataclass(frozen=True, slots=True, kw_only=True)
class WorkStep:
    """One line with a box to tick."""

    stage: Stage
    kind: Kind
    text: str
    """The whole line, for whoever prints no columns."""
    number: int = 0
    lug: str | None = None
    """``place`` as it is said at the bench, ``old S1.A``; only of steps at a lug."""
    short: str | None = None
    """The same in brief; of a step at a lug what stands beside lug and colour."""
    place: str | None = None
    """Where the iron, or the hand, goes."""
    destination: str | None = None
    """Where the end goes; for a new wire its other end."""
    other: str | None = None
    """Where the other end of a lifted or landed wire is, by its name in that wiring."""
    far: str | None = None
    """``destination`` as it is said at the bench; only of steps at a lug."""
    wire: str | None = None
    """Id in the first wiring; ``lead R5.1`` for a part's own lead."""
    becomes: str | None = None
    """Id in the second wiring; None for a wire that comes out, or goes on as part of a net."""
    tag: str | None = None
    """What stands on the wire's label, and on nothing else: its number, see ``wire_plan``."""
    colour: str | None = None
    length_metres: float | None = None
    part: str | None = None
    instead_of: tuple[str, ...] = ()
    """Parts whose place a part takes; for ``take-out`` the parts that take its place."""
    leaves_with: tuple[str, ...] = ()
    partners: tuple[str, ...] = ()
    states: tuple[Mapping[str, str], ...] = ()
    expects: tuple[str, ...] = ()
    """For ``measure``: what should be found in each, or in any; empty where it is not known."""
    note: str | None = None
    why: str | None = None
    caution: str | None = None
    """What can hurt while this is done. The volts of lugs stand in ``Moves.live``."""
    reversible: bool = True


@dataclass(frozen=True, slots=True)
class LivePoints:
    """Lugs, as the steps call them, that stand at the same 50 V or more while there is power."""

    volts: LugVolts
    lugs: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class Stay:
    """A wire that stays on both its lugs; its id in either wiring, None where that knows a net."""

    wire: str | None
    becomes: str | None
    ends: tuple[str, str]
    colour: str | None
    note: str | None
    tag: str | None
    """As of a step; None for a part's own lead."""
    told: str
    """The tag, or the lead's name."""


@dataclass(frozen=True, slots=True)
class Difference:
    """A difference from the original that the second wiring declares."""

    kind: ChangeKind
    about: tuple[str, ...]
    why: str | None
    reversible: bool


@dataclass(frozen=True, slots=True)
class Moves:
    """The work from one wiring to another. Without any difference there are no steps."""

    source: str
    target: str
    stays: tuple[Stay, ...]
    parts_stay: tuple[str, ...]
    """Parts of these two wirings, beside those that stay in every one."""
    nets_stay: tuple[tuple[str, ...], ...]
    """Places that stay connected by wires not known one by one."""
    steps: tuple[WorkStep, ...]
    differences: tuple[Difference, ...]
    cautions: tuple[str, ...]
    live: tuple[LivePoints, ...]
    """Each lug of the steps that can stand at 50 V or more, once; the highest volts first."""
    tags: Mapping[str, str]
    """Id of each wire of the first wiring → its tag, as of a step."""
    broken: bool = False
    """Whether the second wiring is known not to do what the original did: do not build it."""


def step_of(stage: Stage, kind: Kind, text: str, caution: str | None = None) -> WorkStep:
    """A step that is a sentence and no more."""
    return WorkStep(stage=stage, kind=kind, text=text, caution=caution)


def capital(text: str) -> str:
    """A spec's text as a sentence begins."""
    return text[:1].upper() + text[1:]


def heading_of(moves: Moves, stage: Stage) -> str:
    """What stands above the steps of a stage; there is no power for a wiring that is broken."""
    is_power = moves.broken and stage == "power"
    return "No power before it is mended and checked; then" if is_power else STAGES[stage]
