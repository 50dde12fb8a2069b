"""What can hurt, and only where the spec gives cause; making safe before the work, power after it.

The spec's own cautions come first, the sentence on local codes last. The limit of 50 V is the
project's own; which voltage is dangerous depends on where one is, and local codes come first.
The lines of a spec's own procedure are sorted by what they do, and ours stand where it has none.
"""

from __future__ import annotations

import re
from collections.abc import Iterator
from dataclasses import replace
from typing import Literal

from rewire.bench.work_list import Stage, WorkStep, capital, step_of
from rewire.records.parts import Capacitor, Meter, Pot
from rewire.records.spec import Spec, Task, Wiring
from rewire.values.lug_volts import high_points, is_high, lug_volts

Deed = Literal["live", "unplug", "wait", "open", "discharge", "prove", "other", "label"]
Phase = Literal["dead", "set", "power"]

LOCAL_CODES = (
    "Local codes and licensed practice come first: this is an aid to somebody who is qualified to "
    "do the work, and where it and a code differ, the code holds."
)
BIG = 1000.0
"""Volts from which a capacitor is bled through a resistor and then shorted; common practice."""
_MAINS_VOLTS = 90.0
_MOST = 5
"""Lines of cautions that somebody reads before he begins; the spec's own are never fewer."""

_SELENIUM = (
    "Selenium cells and rectifiers: do not solder on the plates, break or burn them, the fumes are "
    "poisonous"
)
_OIL = (
    "Oil-filled capacitors may hold PCB: do not open one, keep your skin off a leak, hand it in as "
    "hazardous waste"
)
_RADIUM = (
    "An old dial may be painted with radium: do not scrape, wipe or dust it, and leave it to "
    "somebody equipped for that if it may be"
)
_RUBBER = "Perished rubber falls off its wire when it is bent: replace it, do not tape it"
_ASBESTOS = "Sleeving may be asbestos: do not cut, strip or brush it dry"
_LEAD = (
    "A lead battery feeds hundreds of amperes into a dropped spanner and gives off gas that "
    "explodes: take its minus lead off first, no sparks, eyes covered"
)
_RF = "RF burns deep: key the equipment into a dummy load only"
_CAUSES = (
    (r"\brf\b|radio frequency|transmit|\bexciter\b|key(ed)? down", r"\brf\b", _RF),
    (r"radium|luminous|(dial|glass)[^.;]{0,30}\b(open|glue|swap|crack|broke|repaint|scrape)"
     r"|(open|swap|repaint)\w*[^.;]{0,20}\bdial", r"radium", _RADIUM),
    (r"selenium", r"selenium[^.;]*(solder|break|burn|poison)", _SELENIUM),
    (r"\boil[- ](filled|capacitor)|paper[- ]in[- ]oil|\bpcbs?\b", r"\bpcbs?\b", _OIL),
    (r"\brubber\b|\bperished\b", r"\brubber\b|\bperished\b", _RUBBER),
    (r"asbestos", r"asbestos", _ASBESTOS),
    (r"lead[- ]acid|lead batter|accumulator|\b(6|12|24) v batter|battery charger",
     r"lead[- ]acid|lead batter|accumulator", _LEAD),
)  # fmt: skip
"""What in a spec's text is cause, what in its own cautions says it already, and the caution."""
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
_LAMP = re.compile(r"lamp in series|series lamp|variable transformer|through a lamp")
_ORDER: tuple[Deed, ...] = ("live", "unplug", "wait", "open", "discharge", "prove", "other")
_NO_RESISTOR = re.compile(r"(?!.*(resistor|ohm|bleed|Ω|through))")
_METERS = (600.0, 1000.0)
"""Volts that test meters are rated for; common practice, no source."""


def cautions_of(spec: Spec) -> tuple[str, ...]:
    """The spec's own cautions, what its points and texts give cause for, and local codes."""
    own = " ".join(spec.cautions).lower()
    told = [" ".join(_volts(spec, own)), " ".join(f"{one}." for one in _special(spec, own))]
    ours = [line for line in told if line]
    if len(spec.cautions) + len(ours) >= _MOST:
        ours = [" ".join(ours)]
    return (*spec.cautions, *_live_chassis(spec), *ours, LOCAL_CODES)


def _live_chassis(spec: Spec) -> Iterator[str]:
    for point in spec.points.values():
        if point.chassis and point.live:
            yield (
                f"{point.name} is live, there is no mains transformer: unplugged or not, measure "
                "it against earth before touching it, and test behind an isolating transformer "
                "only."
            )


def _volts(spec: Spec, own: str) -> Iterator[str]:
    high = [f"{p.name} {p.most_volts:g} V{' AC' if p.ac else ''}" for p in high_points(spec)]
    if high:
        yield f"50 V or more at {', '.join(high)}."
    unknown = unknown_points(spec)
    if unknown:
        yield f"Volts not given, so dangerous until measured: {', '.join(unknown)}."
    if holds_charge(spec):
        first = "Unplug" if has_mains(spec) else "Cut off every supply"
        yield f"{first}, wait, open, discharge, prove dead with a meter rated for it."
    if "zero screw" not in own:
        yield from _meters(spec)


def _meters(spec: Spec) -> Iterator[str]:
    """Meters that stand at 50 V or more."""
    found: dict[str, None] = {}
    for wiring in spec.wirings.values():
        meters = spec.all_of(Meter, wiring).values()
        volts = lug_volts(spec, wiring) if meters else {}
        found.update((m.name, None) for m in meters if set(m.full_terminals) & volts.keys())
    if found:
        yield (
            f"{' and '.join(found)} can stand at those volts, zero screw and all: set the zero "
            "with the power off."
        )


def _special(spec: Spec, own: str) -> Iterator[str]:
    """Hazards that a text of the spec gives cause for, and its own cautions do not tell."""
    text = texts_of(spec)
    for cause, told, caution in _CAUSES:
        high_oil = caution is _OIL and is_big(spec)
        if (re.search(cause, text) or high_oil) and not re.search(told, own):
            yield caution


def texts_of(spec: Spec) -> str:
    """All that the spec says in words, in small letters."""
    return " \n ".join(text for text in _texts(spec) if text).lower()


def _texts(spec: Spec) -> Iterator[str | None]:
    yield from (spec.title, spec.equipment, spec.summary, *spec.cautions)
    for point in spec.points.values():
        yield from (point.where, point.note)
    for found in spec.found:
        yield from (found.what, found.where, found.why)
    for task in (*spec.before, *spec.after):
        yield from (task.do, task.caution)
    for test in spec.acceptance:
        yield from (test.test, test.how)
    for wiring in spec.wirings.values():
        yield from (wire.note for wire in wiring.wires)
        yield from (part.note for part in spec.parts_of(wiring).values())


def unknown_points(spec: Spec) -> list[str]:
    """Points of which no volts are given."""
    points = [p for p in spec.points.values() if not p.chassis]
    return [p.name for p in points if p.volts is None and p.rises_to is None]


def has_mains(spec: Spec) -> bool:
    """Whether a text, or a point of the mains' volts, says that the equipment has mains."""
    text = texts_of(spec)
    if re.search(r"\bmains\b", text):
        return True
    if re.search(r"\bunplug|\bthe plug\b", text) and not re.search(r"\bbatter", text):
        return True
    return any(p.ac and abs(p.most_volts) >= _MAINS_VOLTS for p in spec.points.values())


def is_big(spec: Spec) -> bool:
    """Whether there are capacitors at a thousand volts or more."""
    rated = [p.rating_volts or 0.0 for p in capacitors_of(spec)]
    return max([*rated, *(abs(p.most_volts) for p in spec.points.values())], default=0.0) >= BIG


def capacitors_of(spec: Spec) -> list[Capacitor]:
    """The capacitors that the spec names, each once."""
    each = [spec.all_of(Capacitor, wiring) for wiring in spec.wirings.values()]
    return list({name: part for found in each for name, part in found.items()}.values())


def holds_charge(spec: Spec) -> bool:
    """Whether something can still bite with the supply off: mains, high or unknown volts."""
    return bool(has_mains(spec) or high_points(spec) or unknown_points(spec) or capacitors_of(spec))


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


def safe_steps(spec: Spec) -> Iterator[WorkStep]:
    """Unplug, wait, open, discharge, prove dead: the spec's own lines, ours where it has none."""
    own: dict[Deed, list[Task]] = {}
    for task in spec.before:
        for deed, piece in deeds_of(task):
            own.setdefault(deed, []).append(piece)
    ours = dict(_ours(spec))
    for deed in _ORDER:
        yield from (_own(spec, deed, task) for task in own.get(deed, ()))
        if deed in ours and (deed == "prove" or deed not in own):
            yield ours[deed]


def label_steps(spec: Spec) -> Iterator[WorkStep]:
    """Labels and photographs that the spec asks for."""
    for task in spec.before:
        yield from (task_step(own, "record") for deed, own in deeds_of(task) if deed == "label")


def task_step(task: Task, stage: Stage) -> WorkStep:
    """A line of the spec's own procedure."""
    where = f" ({task.where})" if task.where else ""
    return replace(
        step_of(stage, "task", f"{capital(task.do)}{where}", task.caution), place=task.where
    )


def _own(spec: Spec, deed: Deed, task: Task) -> WorkStep:
    step = task_step(task, "safe")
    if deed != "discharge" or not is_big(spec) or not _NO_RESISTOR.match(task.do):
        return step
    mind = "bleed through a resistor first, then short; never short a charged bank"
    return replace(step, caution="; ".join(text for text in (task.caution, mind) if text))


def _ours(spec: Spec) -> Iterator[tuple[Deed, WorkStep]]:
    yield "unplug", _safety(_cut_off(spec))
    if not holds_charge(spec):
        return
    yield "wait", _safety("Wait five minutes: valves cool down, capacitors run down")
    yield "open", _safety("Open the equipment, and touch nothing in it yet")
    yield "discharge", _discharge(spec)
    yield "prove", _safety(f"Prove dead with {_meter(spec)}, proved on a known source before and "
                           f"after{_list(spec)}")  # fmt: skip


def _safety(text: str, caution: str | None = None) -> WorkStep:
    return step_of("safe", "safety", text, caution)


def _cut_off(spec: Spec) -> str:
    battery = re.search(r"\bbatter", texts_of(spec))
    if has_mains(spec):
        return "Pull the mains plug" + (", take the battery off" if battery else "")
    return "Take the battery off" if battery else "Cut off every supply"


def _discharge(spec: Spec) -> WorkStep:
    names = [part.name for part in capacitors_of(spec)]
    held = f" ({', '.join(names)} and those of the supply)" if names else ""
    if is_big(spec):
        return _safety(
            f"Bleed every high-voltage capacitor{held} through a resistor that is rated for the "
            "volts, measure that it is empty, then short it and leave the short on",
            caution="never short a charged bank: it bursts the stick, the capacitor, or you",
        )
    return _safety(
        f"Discharge every capacitor{held} through a resistor, one by one, and measure each",
        caution="stored charge: capacitors hold it for minutes, some for days",
    )


def _meter(spec: Spec) -> str:
    most = max((abs(p.most_volts) for p in spec.points.values()), default=0.0)
    rated = next((volts for volts in _METERS if volts >= most), None)
    if rated is None:
        return f"a high-voltage probe rated above {most / 1000:g} kV"
    return f"a meter rated {rated:g} V or more"


def _list(spec: Spec) -> str:
    """Where to measure: high points with their volts, then those of which nothing is known."""
    points = [p for p in spec.points.values() if not p.chassis]
    high = [f"{p.name} ({p.most_volts:g} V)" for p in points if is_high(p)]
    unknown = unknown_points(spec)
    if not high and not unknown:
        return ": at every capacitor, and at every lug that you will touch"
    asked = f"volts not given, so here too: {', '.join(unknown)}"
    if not high:
        return f": {asked}"
    return f": at {', '.join(high)}" + (f"; {asked}" if unknown else "")


def still_off_steps(spec: Spec, wiring: Wiring) -> Iterator[WorkStep]:
    """What is checked before there is power again; whatever the spec adds may close the cover."""
    yield step_of(
        "after", "safety",
        f"Buzz {wiring.name} against the continuity table, in every position "
        f"(rewire buzz --wiring {wiring.name})",
        "if anything is open that must be closed, or closed that must be open, stop: no "
        "power until it is right",
    )  # fmt: skip
    yield from (task_step(task, "after") for task in phases_of(spec.after, wiring)["dead"])


def power_steps(spec: Spec, wiring: Wiring) -> Iterator[WorkStep]:
    """First power through a lamp where there is mains; then what the spec asks with power on."""
    live = _live(spec)
    said = " ".join(task.do.lower() for task in spec.after)
    if has_mains(spec) and not _LAMP.search(said):
        yield step_of(
            "power", "safety",
            "First power-up through a lamp in series with the mains, or a variable "
            "transformer, with a load on the output; if the lamp stays bright, pull the plug",
            live,
        )  # fmt: skip
    elif live:
        text = "Put the supply back, hands clear of every lug, ready to take it off at once"
        yield step_of("power", "safety", text, live)
    yield from (task_step(task, "power") for task in phases_of(spec.after, wiring)["power"])


def _live(spec: Spec) -> str | None:
    points = high_points(spec)
    if not points:
        return None
    said = ", ".join(f"{p.name} {p.most_volts:g} V{' AC' if p.ac else ''}" for p in points)
    alone = "; never alone at these volts" if abs(points[0].most_volts) >= BIG else ""
    return f"live from here: {said}, and every lug of the table above{alone}"
