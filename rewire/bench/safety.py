"""What can hurt, and only where the spec gives cause; making safe before the work, power after it.

The spec's own cautions come first, the sentence on local codes last. The limit of 50 V is the
project's own; which voltage is dangerous depends on where one is, and local codes come first.
The lines of a spec's own procedure are sorted by what they do, and ours stand where it has none.
"""

from __future__ import annotations

import re
from collections.abc import Iterator, Mapping
from dataclasses import dataclass, replace
from typing import Literal

from rewire.bench.work_list import Stage, WorkStep, capital, step_of
from rewire.records.parts import Capacitor, Meter
from rewire.records.spec import Spec, Task, Wiring
from rewire.values.solved import lug_volts, point_volts
from rewire.values.sources import LugVolts

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

_CAUSES = (
    (r"\brf\b|radio frequency|transmit|\bexciter\b|key(ed)? down", r"\brf\b",
     "RF burns deep: key the equipment into a dummy load only"),
    (r"radium|luminous|(dial|glass)[^.;]{0,30}\b(open|glue|swap|crack|broke|repaint|scrape)"
     r"|(open|swap|repaint)\w*[^.;]{0,20}\bdial", r"radium",
     "An old dial may be painted with radium: do not scrape, wipe or dust it, and leave it to "
     "somebody equipped for that if it may be"),
    (r"selenium", r"selenium[^.;]*(solder|break|burn|poison)",
     "Selenium cells and rectifiers: do not solder on the plates, break or burn them, the fumes "
     "are poisonous"),
    (r"\boil[- ](filled|capacitor)|paper[- ]in[- ]oil|\bpcbs?\b", r"\bpcbs?\b",
     "Oil-filled capacitors may hold PCB: do not open one, keep your skin off a leak, hand it in "
     "as hazardous waste"),
    (r"\brubber\b|\bperished\b", r"\brubber\b|\bperished\b",
     "Perished rubber falls off its wire when it is bent: replace it, do not tape it"),
    (r"asbestos", r"asbestos", "Sleeving may be asbestos: do not cut, strip or brush it dry"),
    (r"lead[- ]acid|lead batter|accumulator|\b(6|12|24) v batter|battery charger",
     r"lead[- ]acid|lead batter|accumulator",
     "A lead battery feeds hundreds of amperes into a dropped spanner and gives off gas that "
     "explodes: take its minus lead off first, no sparks, eyes covered"),
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
_EVERY_SUPPLY = re.compile(r"\b(every|all)\b.*\bsuppl")
_MIND_THE_BANK = "bleed through a resistor first, then short; never short a charged bank"
_NO_RESISTOR = re.compile(r"(?!.*(resistor|ohm|bleed|Ω|through))")
_METERS = (600.0, 1000.0)
"""Volts that test meters are rated for; common practice, no source."""


@dataclass(frozen=True, slots=True)
class Hazards:
    """What of a spec can hurt, worked out once."""

    text: str
    high: Mapping[str, LugVolts]
    """Points that can be at 50 V or more, the highest first."""
    unknown: tuple[str, ...]
    capacitors: tuple[str, ...]
    most_volts: float
    big: bool
    """Whether there are volts or capacitors of a thousand volts or more."""
    mains: bool
    """Whether a text, or a point of the mains' volts, says that the equipment has mains."""

    @property
    def charge(self) -> bool:
        """Whether something can still bite with the supply off."""
        return bool(self.mains or self.high or self.unknown or self.capacitors)

    @property
    def cut_off(self) -> str:
        """What comes first: no word of a text says that a supply is the only one."""
        return "Unplug all" if self.mains else "Cut off every supply"


def hazards_of(spec: Spec) -> Hazards:
    """What of a spec can hurt: its volts, its charge, what its texts name."""
    text = " \n ".join(said for said in _texts(spec) if said).lower()
    points = spec.points.values()
    wirings = [spec.all_of(Capacitor, wiring) for wiring in spec.wirings.values()]
    capacitors = {name: part for found in wirings for name, part in found.items()}
    rated = (part.rating_volts or 0.0 for part in capacitors.values())
    high = point_volts(spec)
    most = max((abs(volts.volts) for volts in high.values()), default=0.0)
    plug = re.search(r"\bunplug(?! (it|the batter))|\bthe plug\b", text)
    at_mains = any(p.ac and abs(p.most_volts) >= _MAINS_VOLTS for p in points)
    no_volts = (p for p in points if p.volts is None and p.rises_to is None and not p.chassis)
    return Hazards(
        text, high, unknown=tuple(point.name for point in no_volts),
        capacitors=tuple(capacitors), most_volts=most, big=max([most, *rated]) >= BIG,
        mains=bool(re.search(r"\bmains\b", text) or plug) or at_mains,
    )  # fmt: skip


def _texts(spec: Spec) -> Iterator[str | None]:
    meters = (spec.all_of(Meter, wiring).values() for wiring in spec.wirings.values())
    if any(meter.dial for found in meters for meter in found):
        yield "open the dial"  # for its new plate
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


# Cautions


def cautions_of(spec: Spec) -> tuple[str, ...]:
    """The spec's own cautions, what its points and texts give cause for, and local codes."""
    own, hazards = " ".join(spec.cautions).lower(), hazards_of(spec)
    text = hazards.text + " oil-filled capacitors" * hazards.big
    special = (
        f"{caution}."
        for cause, told, caution in _CAUSES
        if re.search(cause, text) and not re.search(told, own)
    )
    ours = [line for line in (" ".join(_volts(spec, hazards, own)), " ".join(special)) if line]
    if len(spec.cautions) + len(ours) >= _MOST:
        ours = [" ".join(ours)]
    live = (
        f"{point.name} is live, there is no mains transformer: unplugged or not, measure it "
        "against earth before touching it, and test behind an isolating transformer only."
        for point in spec.points.values()
        if point.chassis and point.live
    )
    return (*spec.cautions, *live, *ours, LOCAL_CODES)


def _volts(spec: Spec, hazards: Hazards, own: str) -> Iterator[str]:
    if hazards.high:
        yield f"50 V or more at {_with_volts(hazards.high)}."
    if hazards.unknown:
        yield f"Volts not given, so dangerous until measured: {', '.join(hazards.unknown)}."
    if hazards.charge:
        yield f"{hazards.cut_off}, wait, open, discharge, prove dead with a meter rated for it."
    live: dict[str, None] = {}
    for wiring in spec.wirings.values() if "zero screw" not in own else ():
        meters = spec.all_of(Meter, wiring).values()
        volts = lug_volts(spec, wiring) if meters else {}
        live |= dict.fromkeys(m.name for m in meters if set(m.full_terminals) & volts.keys())
    if live:
        yield f"{', '.join(live)} can be live, zero screw too: zero with the power off."


def _with_volts(high: Mapping[str, LugVolts]) -> str:
    return ", ".join(f"{name} {volts.figure}" for name, volts in high.items())


# Before the work


def safe_steps(spec: Spec) -> Iterator[WorkStep]:
    """Unplug, wait, open, discharge, prove dead: the spec's own lines, ours where it has none."""
    own: dict[Deed, list[Task]] = {}
    for task in spec.before:
        for deed, piece in _deeds(task):
            own.setdefault(deed, []).append(piece)
    hazards = hazards_of(spec)
    ours = {deed: step_of("safe", "safety", *said) for deed, *said in _ours(spec, hazards)}
    every = any(_EVERY_SUPPLY.search(task.do.lower()) for task in own.get("unplug", ()))
    for deed in _ORDER:
        bank = deed == "discharge" and hazards.big
        for task in own.get(deed, ()):
            mind = bank and _NO_RESISTOR.match(task.do) and _MIND_THE_BANK
            caution = "; ".join(text for text in (task.caution, mind) if text)
            yield _task_step(replace(task, caution=caution or None), "safe")
            if deed == "unplug" and task is own[deed][0] and not every:
                yield step_of("safe", "safety", "Every supply off")
        if deed in ours and (deed == "prove" or deed not in own):
            yield ours[deed]


def label_steps(spec: Spec) -> Iterator[WorkStep]:
    """Labels and photographs that the spec asks for."""
    for task in spec.before:
        yield from (_task_step(own, "record") for deed, own in _deeds(task) if deed == "label")


def _deeds(task: Task) -> Iterator[tuple[Deed, Task]]:
    """A line of what comes before the work, cut where it goes on to another deed.

    A caution and the place stand with the last piece, which is what it leads up to.
    """
    pieces: list[tuple[Deed, str]] = []
    joint, *rest = ["", *_CLAUSE.split(task.do)]
    for clause, following in zip(rest[::2], [*rest[1::2], ""], strict=True):
        text = clause.strip().lower()
        deed: Deed = next((deed for deed, begins in _DEEDS if re.match(begins, text)), "other")
        if not pieces or (deed in _CUTS and deed != pieces[-1][0]):
            pieces.append((deed, clause))
        else:
            pieces[-1] = pieces[-1][0], pieces[-1][1] + joint + clause
        joint = following
    for deed, text in pieces[:-1]:
        yield deed, replace(task, do=text, where=None, caution=None)
    yield pieces[-1][0], replace(task, do=pieces[-1][1])


def _task_step(task: Task, stage: Stage) -> WorkStep:
    """A line of the spec's own procedure."""
    where = f" ({task.where})" if task.where else ""
    step = step_of(stage, "task", f"{capital(task.do)}{where}", task.caution)
    return replace(step, place=task.where)


def _ours(spec: Spec, hazards: Hazards) -> Iterator[tuple[Deed, str] | tuple[Deed, str, str]]:
    if hazards.mains:
        yield "unplug", "Pull the mains plug, cut off every other supply, batteries too"
    else:
        yield "unplug", "Cut off every supply: mains plug, batteries, feeds from other sets"
    if not hazards.charge:
        return
    yield "wait", "Wait five minutes"
    yield "open", "Open the equipment, touch nothing in it yet"
    names = ", ".join(hazards.capacitors)
    held = f" ({names} and those of the supply)" if names else ""
    if hazards.big:
        yield (
            "discharge",
            f"Bleed every high-voltage capacitor{held} through a resistor that is rated for the "
            "volts, measure that it is empty, then short it and leave the short on",
            "never short a charged bank: it bursts the stick, the capacitor, or you",
        )
    else:
        yield (
            "discharge",
            f"Discharge every capacitor{held} through a resistor, one by one, and measure each",
            "stored charge: capacitors hold it for minutes, some for days",
        )
    rated = next((volts for volts in _METERS if volts >= hazards.most_volts), None)
    meter = f"a high-voltage probe rated above {hazards.most_volts / 1000:g} kV"
    if rated is not None:
        meter = f"a meter rated {rated:g} V or more"
    high = ", ".join(name for name in spec.points if name in hazards.high)
    asked = f"volts not given, so here too: {', '.join(hazards.unknown)}"
    where = "; ".join([f"at {high}"] * bool(high) + [asked] * bool(hazards.unknown))
    where = where or "at every capacitor, and at every lug that you will touch"
    yield "prove", f"Prove dead with {meter}, proved on a known source before and after: {where}"


# After the work


def phases_of(tasks: tuple[Task, ...], wiring: Wiring) -> dict[Phase, list[Task]]:
    """The lines of what comes after the work: with the power off, settings of pots, with power on.

    A line that says neither stays before what needs power, unless it follows that.
    """
    found: dict[Phase, list[Task]] = {"dead": [], "set": [], "power": []}
    for task in tasks:
        text, begun = task.do.lower(), bool(found["power"])
        phase: Phase = "power" if begun or _POWERED.search(text) else "dead"
        if pot_set_by(task, wiring) is not None and not _POWERED.search(text):
            phase = "set"
        elif _DEAD.search(text):
            phase = "power" if begun and re.search(r"\bagain\b", text) else "dead"
        found[phase].append(task)
    return found


def pot_set_by(task: Task, wiring: Wiring) -> str | None:
    """The pot of a wiring that a line sets."""
    match = re.match(r"(set|adjust|trim|preset)\b(.*)", task.do.lower())
    words = re.findall(r"\w+", match[2]) if match else []
    pots = (name for name, part in wiring.parts.items() if part.track_ohms is not None)
    return next((name for name in pots if name.lower() in words), None)


def still_off_steps(spec: Spec, wiring: Wiring) -> Iterator[WorkStep]:
    """What is checked before there is power again; whatever the spec adds may close the cover."""
    yield step_of(
        "after", "safety",
        f"Buzz {wiring.name} in every position: rewire buzz --wiring {wiring.name}",
        "if anything reads otherwise, stop: no power until it is right",
    )  # fmt: skip
    yield from (_task_step(task, "after") for task in phases_of(spec.after, wiring)["dead"])


def power_steps(spec: Spec, wiring: Wiring) -> Iterator[WorkStep]:
    """First power through a lamp where there is mains; then what the spec asks with power on."""
    hazards, live = hazards_of(spec), None
    if hazards.high:
        alone = "; never alone at these volts" if hazards.most_volts >= BIG else ""
        said = _with_volts(hazards.high)
        live = f"live from here: {said}, and every lug wired there{alone}"
    text = (
        "Put the supply back (mains: through a lamp in series), hands clear of every lug, ready to "
        "take it off at once"
    )
    lamp = hazards.mains and not any(_LAMP.search(task.do.lower()) for task in spec.after)
    if lamp:
        text = (
            "First power-up: variable transformer or lamp in series with the mains, load on the "
            "output; if the lamp stays bright, pull the plug"
        )
    if lamp or live:
        yield step_of("power", "safety", text, live)
    yield from (_task_step(task, "power") for task in phases_of(spec.after, wiring)["power"])
