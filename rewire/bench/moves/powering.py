"""After the wiring: checks with the power off, then power, and which lugs are live then."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence

from rewire.bench.cautions import BIG, has_mains
from rewire.bench.moves.model import LiveLugs, Step
from rewire.bench.moves.safety import task_step
from rewire.bench.moves.tasks import says_lamp
from rewire.bench.moves.work import Work
from rewire.records.spec import Part, Task
from rewire.values.live import most_volts
from rewire.values.lug_volts import LugVolts, high_points

_OF_OLD = ("lift", "free", "take-out")
"""Kinds of steps that speak of the first wiring."""


def still_off_steps(work: Work, tasks: Sequence[Task]) -> Iterator[Step]:
    """What is checked before there is power again; whatever the spec adds may close the cover."""
    yield Step(
        stage="after", kind="safety",
        text=f"Buzz {work.target.name} against the continuity table, in every position "
        f"(rewire buzz --wiring {work.target.name})",
        caution="if anything is open that must be closed, or closed that must be open, stop: no "
        "power until it is right",
    )  # fmt: skip
    yield from (task_step(task, "after") for task in tasks)


def power_steps(work: Work, tasks: Sequence[Task]) -> Iterator[Step]:
    """First power through a lamp where there is mains; then what the spec asks with power on."""
    live = _live(work)
    if has_mains(work.spec) and not says_lamp(work.spec.after):
        yield Step(
            stage="power", kind="safety", caution=live,
            text="First power-up through a lamp in series with the mains, or a variable "
            "transformer, with a load on the output; if the lamp stays bright, pull the plug",
        )  # fmt: skip
    elif live:
        yield Step(
            stage="power", kind="safety", caution=live,
            text="Put the supply back, hands clear of every lug, ready to take it off at once",
        )  # fmt: skip
    yield from (task_step(task, "power") for task in tasks)


def _live(work: Work) -> str | None:
    points = high_points(work.spec)
    if not points:
        return None
    said = ", ".join(f"{p.name} {most_volts(p):g} V{' AC' if p.ac else ''}" for p in points)
    alone = "; never alone at these volts" if abs(most_volts(points[0])) >= BIG else ""
    return f"live from here: {said}, and every lug of the table above{alone}"


def live_lugs(work: Work, steps: Sequence[Step]) -> Iterator[LiveLugs]:
    """Lugs that the steps name and that can stand at 50 V or more, by what stands there."""
    at: dict[str, LugVolts] = {}
    for step in steps:
        is_old = step.kind in _OF_OLD
        volts = work.hot_before if is_old else work.hot_after
        name = work.turn.old_name if is_old else work.turn.new_name
        for place in _places(step, work):
            one, known = volts.get(place), at.get(name(place))
            if one and (known is None or abs(one.volts) > abs(known.volts)):
                at[name(place)] = one
    by_words: dict[str, list[str]] = {}
    for lug in sorted(at, key=lambda lug: -abs(at[lug].volts)):
        by_words.setdefault(at[lug].said, []).append(lug)
    yield from (LiveLugs(at[lugs[0]], tuple(lugs)) for lugs in by_words.values())


def _places(step: Step, work: Work) -> Iterator[str]:
    """Every lug that a step names, its own and those at the far ends, in its wiring."""
    if step.kind in ("take-out", "mount") and step.part:
        parts: Mapping[str, Part] = work.turn.old if step.kind == "take-out" else work.turn.new
        part = parts[step.part]
        yield from (part.terminal(lug) for lug in part.terminals)
    elif step.kind == "lift":
        yield from (place for place in (step.place, step.other) if place)
    else:
        yield from (p for p in (step.place, step.destination, step.other, *step.partners) if p)
