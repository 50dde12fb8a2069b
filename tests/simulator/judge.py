"""Every figure of `rewire values` asked again of the simulator."""

import re
from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import replace
from fractions import Fraction
from functools import partial
from itertools import product
from math import inf, nan, sqrt
from typing import Any

from tests.simulator import exact
from tests.simulator.box import worst_corners
from tests.simulator.ledger import AGREES, Ledger
from tests.simulator.netlist import Circuit, Source
from tests.simulator.quantities import quantity
from tests.simulator.reader import SOUND, Rig, State, Upset
from tests.simulator.readings import Taken

NOTHING = 1e-9
"""Share of full scale below which a figure counts as nothing."""
NO_LOAD = 1e-3
"""The same of an overload."""
PERCENT = 1e-6
"""The same where the program tells percent beside a hundred."""
MOVED = 1e-9
"""Share of a current below which nothing was moved."""
LOW_OHMS = 10
FORWARD_VOLTS = {"silicon": Fraction(7, 10), "germanium": Fraction(3, 10)}
"""From memory."""
NEARLY = 0.8
MOST_CORNERS = 12
MOST_MOVING = 6
OVER = 1.05
"""Times full scale, or what it takes anyhow, from which the program tells an overload."""


def full_state(rig: Rig, state: State) -> dict[str, str]:
    return {name: state.get(name, at[0]) for name, at in rig.controls.items()}


def known(taken: Taken) -> bool:
    """Whether every value in the circuit has a figure."""
    values = taken.rig.values
    parts = {b.part for b in taken.net.branches}
    return all(
        v.nominal is not None for n, v in values.items() if n.split("#")[0].split()[0] in parts
    )


def judge(ledger: Ledger, about: str, rig: Rig, result: Mapping[str, Any]) -> None:
    """Readings, worst cases, parts, fitted values, bench, faults and moments of one wiring."""
    taken = {}
    for told in result["readings"]:
        one = Taken(rig, told["name"], full_state(rig, told["state"]))
        if known(one):
            taken[told["name"]] = one
            reading(ledger, f"{about} {one.name}", with_leads(one), told)
            worst_case(ledger, f"{about} {one.name}", with_leads(one), told)
    parts(ledger, about, rig, result, taken)
    put_back(ledger, about, rig, result)
    states = {told["name"]: full_state(rig, told["state"]) for told in result["readings"]}
    for table in result["bench"]:
        name = table["reading"]
        alone = Taken(_without_also(rig, name), name, states[name])
        if known(alone):
            bench(ledger, about, alone, table)
    if any("diode" in part for part in rig.parts.values()):
        return  # what diodes do under a fault is asked of a diode's own model: test_diodes
    faults(ledger, about, rig, result, taken)
    moments(ledger, about, rig, result, taken)


def with_leads(one: Taken) -> Taken:
    """With the copper of the wires, where the whole that the reading's drive meets is low."""
    if not one.rig.copper or one.tied[0] or not one.linked[0]:
        return one
    values, ends = one.rig.nominal, one.drives[0][0]
    whole = one.across(ends, values, exact.volts(one.unit(0, values)))
    return replace(one, leads=True) if whole < LOW_OHMS else one


def reading(ledger: Ledger, about: str, one: Taken, told: Mapping[str, Any]) -> None:
    """Deflection, amperes of the meter, what the set feels."""
    if one.answer() == "null" or forward(one) > 1.0:
        ledger.same(f"{about}: deflection", told["deflection"], None)
        return
    if forward(one) > NEARLY:
        return  # a corner of the box may have more than the quarter
    values = one.rig.nominal
    circuit, full = one.circuit(values), one.meter_amps

    def deflection(volts: Sequence[Any]) -> Any:
        amps = one.through_meter(values, volts[0])
        return amps / (full if isinstance(amps, Fraction) else float(full))

    ledger.ask(f"{about}: deflection", told["deflection"], [circuit], deflection, NOTHING)
    ledger.ask(
        f"{about}: meter amps",
        told["meter_amps"],
        [circuit],
        lambda volts: one.through_meter(values, volts[0]),
        NOTHING * float(full),
    )
    insertion(ledger, f"{about}: insertion", one, told["insertion_ohms"])
    if one.rig.name != "original" and one.name in one.rig.spec["readings"]:
        before = Taken(Rig(one.rig.spec, "original", {}), one.name, one.state)
        if known(before) and one.rig.readings[one.name] == before.reading:
            told_ohms = told["original_insertion_ohms"]
            where = f"{about}: insertion in the original"
            insertion(ledger, where, with_leads(before), told_ohms)


def forward(one: Taken) -> float:
    """The most that a diode has of a quarter of its forward volts, at full scale."""
    found, values = 0.0, one.rig.nominal
    diodes = {name: part for name, part in one.rig.parts.items() if "diode" in part}
    if diodes:
        wide = one.everywhere()
        circuit, nodes = wide.circuit(values), wide.net.merged(values)[1]
        volts, pieces = exact.volts(circuit), circuit.grounds()
        for name, part in diodes.items():
            given = FORWARD_VOLTS.get(part["diode"]) or quantity(part["diode"])
            anode, cathode = nodes(f"{name}.A"), nodes(f"{name}.K")
            if pieces(anode) == pieces(cathode) and anode in volts:
                share = float(4 * (volts[anode] - volts[cathode]) / given)
                found = max(found, abs(share) * sqrt(2.0) if one.reading.get("ac") else share)
    return found


def insertion(ledger: Ledger, about: str, one: Taken, told: float | None) -> None:
    values = one.rig.nominal
    if not one.linked[0]:
        ledger.same(about, told, None)
    elif not one.tied[0]:
        ends = one.drives[0][0]
        ledger.ask(
            about, told, [one.unit(0, values)], lambda v: one.across(ends, values, v[0]), 1e-9
        )


def worst_case(ledger: Ledger, about: str, one: Taken, told: Mapping[str, Any]) -> None:
    """All corners of the box of tolerances: the extremes told are reached and not passed."""
    if one.answer() == "null" or one.tied[0] or told["deflection"] is None:
        return
    if unstated(one):
        both = told["worst_low_percent"], told["worst_high_percent"]
        ledger.same(f"{about}: worst case not known", both, (None, None))
        return
    worn = replace(one, worn=True)
    if any("fuse" in part and "resistance" not in part for part in one.rig.parts.values()):
        return  # nobody says how far the band of such a fuse goes
    if len(worn.free()) > MOST_CORNERS or told["worst_low_percent"] is None:
        return
    full, accuracy = float(one.meter_amps), told["accuracy_percent"] or 0.0
    for end, sign, corner in zip(("low", "high"), (-1, 1), worst_corners(worn), strict=True):
        values = {**one.rig.nominal, **corner}

        def deflection(volts: Sequence[Any], values: Any = values) -> Any:
            return float(worn.through_meter(values, volts[0])) / full

        percent = told[f"worst_{end}_percent"] - sign * accuracy
        extreme = 1.0 + percent / 100.0
        ledger.ask(f"{about}: worst case", extreme, [worn.circuit(values)], deflection, PERCENT)


def unstated(one: Taken) -> list[str]:
    """Values without a tolerance that move the meter's current, halved against doubled."""
    found, parts = [], {b.part for b in one.net.branches}
    for name, value in one.rig.values.items():
        if value.spread is None and name.split("#")[0] in parts:
            boxes = [{**one.rig.nominal, name: value.nominal * k} for k in (Fraction(1, 2), 2)]
            low, high = (one.through_meter(box, exact.volts(one.circuit(box))) for box in boxes)
            if abs(high - low) > MOVED * max(abs(low), abs(high)):
                found.append(name)
    return found


def parts(
    ledger: Ledger, about: str, rig: Rig, result: Mapping[str, Any], taken: Mapping[str, Taken]
) -> None:
    """The most that each part takes over all readings: watts, volts and amperes."""
    values = rig.nominal
    summed = [one for one in taken.values() if one.flows()]
    for told in result["parts"]:
        name = told["part"]
        if not any(b.ohms(values) for one in summed for b in one.net.branches if b.part == name):
            continue
        circuits = [one.circuit(values) for one in summed]
        for key, least in (("watts", 1e-15), ("volts", 1e-9), ("amps", 1e-12)):

            def most(volts: Sequence[Any], key: str = key, name: str = name) -> float:
                each = [list(o.loads(name, values, v)) for o, v in zip(summed, volts, strict=True)]
                if key == "watts":
                    return max(sum(v * a for v, a in loads) for loads in each)
                at = ("volts", "amps").index(key)
                return max((load[at] for loads in each for load in loads), default=0.0)

            ledger.ask(f"{about} {name}: {key}", told[key], circuits, most, least)


def put_back(ledger: Ledger, about: str, rig: Rig, result: Mapping[str, Any]) -> None:
    """Exact values put back: the reading they serve comes out right, pots set as told."""
    exact = {f["part"]: f["exact_ohms"] for f in result["fits"]}
    if None in exact.values() or any(p["setting_percent"] is None for p in result["pots"]):
        return
    rounded = any(f["chosen_ohms"] != f["exact_ohms"] for f in result["fits"])
    serve = [] if rounded and result["pots"] else result["fits"]
    found = {**rig.found, **{name: Fraction(ohms) for name, ohms in exact.items()}}
    for rig_now, told in [(Rig(rig.spec, rig.name, found), serve), (rig, result["pots"])]:
        for one in told:
            state = next(r["state"] for r in result["readings"] if r["name"] == one["reading"])
            served = Taken(rig_now, one["reading"], full_state(rig, state))
            values = rig_now.nominal

            def deflection(
                volts: Sequence[Any], served: Taken = served, values: Any = values
            ) -> Any:
                return float(served.through_meter(values, volts[0])) / float(served.meter_amps)

            where = f"{about} {one['part']} for {one['reading']}: put back"
            ledger.ask(where, 1.0, [served.circuit(values)], deflection, NOTHING)


def bench(ledger: Ledger, about: str, alone: Taken, table: Mapping[str, Any]) -> None:
    """Each row set up on the bench: the supply behind its resistor at the reading's places."""
    values, full = alone.rig.nominal, float(alone.meter_amps)
    ends, behind = alone.drives[0][0], float(alone.behind)
    resistors, nodes = alone.net.merged(values)
    own = nodes(ends[0]), nodes(ends[1])
    into = alone.unit(0, values)

    def amps(volts: Sequence[Any]) -> float:
        fed, one = (float(alone.across(ends, values, at)) for at in volts)
        return fed / one

    def true(volts: Sequence[Any]) -> float:
        found = amps(volts)
        return (
            found if alone.current else float(alone.across(ends, values, volts[0])) + found * behind
        )

    def deflection(volts: Sequence[Any]) -> float:
        return float(alone.through_meter(values, volts[0])) / full

    for row in table["rows"]:
        supply = Source(own, Fraction(row["supply_volts"]), Fraction(table["series_ohms"]))
        both = [Circuit(resistors, (), supply), into]
        start = f"{about} {alone.name} at {row['percent']:g} %"
        ledger.ask(f"{start}: bench deflection", row["deflection"], both, deflection, NOTHING)
        ledger.ask(f"{start}: bench amps", row["supply_amps"], both, amps, 1e-15)
        ledger.ask(f"{start}: bench true value", row["true"], both, true, 1e-15)


def _without_also(rig: Rig, name: str) -> Rig:
    bare = {k: v for k, v in rig.readings[name].items() if k != "also"}
    readings = {**rig.readings, name: bare}
    wiring = {k: v for k, v in rig.wiring.items() if k != "readings"}
    wirings = {**rig.spec["wirings"], rig.name: wiring}
    return Rig({**rig.spec, "readings": readings, "wirings": wirings}, rig.name, rig.found)


# ---- what the meter takes when something is upset


def ceiling(rig: Rig, places: Sequence[str]) -> float:
    """The most volts between two places that say what they rise to, or are the chassis."""
    spans = []
    for place in places:
        point = rig.spec.get("points", {}).get(place) or {}
        if point.get("chassis"):
            spans.append((0.0, 0.0))
        elif "rises_to" in point:
            stands = [0.0, float(quantity(point.get("volts", "0 V")))]
            stands.append(float(quantity(point["rises_to"])))
            most = max(map(abs, stands))
            spans.append((-most, most) if point.get("ac") == "yes" else (min(stands), max(stands)))
    if len(spans) < 2:
        return inf
    (low, high), (other_low, other_high) = spans
    return max(high - other_low, other_high - low)


def takes(one: Taken, volts: Sequence[Any], values: Any, rising: bool = True) -> float:
    """Times full scale through the meter.

    Args:
        one: the reading.
        volts: of its unit circuits, one for each drive.
        values: ohms.
        rising: with its places at what they can rise to, where they say so; else at full scale.
    """
    named = one.reading.get("current") or one.reading["voltage"]
    places = [named, *(d["current"] for d in one.reading.get("also", ()))]
    most = [ceiling(one.rig, pair) if rising else inf for pair in places]
    meter = [float(one.through_meter(values, v)) for v in volts]
    at_own = [float(one.across(one.drives[0][0], values, v)) for v in volts]
    amps = standing = 0.0
    for n, (pair, amount) in enumerate(one.drives[1:], 1):
        if one.linked[n]:
            load = float(one.across(pair, values, volts[n]))
            flows = min(float(amount), most[n] / load if load else inf)
            amps, standing = amps + flows * meter[n], standing + flows * at_own[n]
    if one.linked[0]:
        amps += _own(one, most[0], standing, at_own[0]) * meter[0]
    return amps / float(one.meter_amps)


def _own(one: Taken, most: float, standing: float, into: float) -> float:
    full = float(one.full_scale)
    if one.current:
        return full if not into or most == inf else min(full, max(most - standing, 0.0) / into)
    whole = into + float(one.behind)
    return ((full if most == inf else most) - standing) / whole if whole else nan


def overload(
    ledger: Ledger, about: str, told: float, cases: Sequence[Taken], surely: Sequence[bool]
) -> None:
    """The most that a reading's meter takes over some cases, where that is an overload.

    What is told is one of the cases. None of those that surely count takes more, but for what the
    meter takes at rest as well.
    """
    rest = replace(cases[0], moving={})
    circuits, take = all_takes([rest, *cases])

    def most(volts: Sequence[Any]) -> float:
        at_rest, *each = take(volts)
        mine = [abs(t) for t, sure in zip(each, surely, strict=True) if sure]
        least = max((t for t in mine if t > OVER * max(1.0, abs(at_rest))), default=0.0)
        if least > abs(told) * (1 + AGREES):
            return least
        return min(each, key=lambda times: abs(times - told))

    ledger.ask(about, told, circuits, most, NO_LOAD)


def all_takes(cases: Sequence[Taken]) -> tuple[list[Circuit], Callable[[Any], list[float]]]:
    """Unit circuits of some cases, and how to get from their volts what each meter takes."""
    values = cases[0].rig.nominal
    counts = [len(case.drives) for case in cases]
    starts = [sum(counts[:n]) for n in range(len(counts))]

    def take(volts: Sequence[Any]) -> list[float]:
        each = zip(cases, starts, counts, strict=True)
        return [takes(case, volts[at : at + count], values) for case, at, count in each]

    return [case.unit(n, values) for case in cases for n in range(len(case.drives))], take


def defined(one: Taken) -> bool:
    """Whether there is an answer: volts straight across no ohms have none, nor has a value open."""
    if not known(one):
        return False
    nodes = one.net.merged(one.rig.nominal)[1]
    (plus, minus), _ = one.drives[0]
    return one.current or bool(one.behind) or nodes(plus) != nodes(minus)


FAULTS: dict[str, Callable[[Rig, re.Match[str]], Upset]] = {
    r"contact (\S+) open": lambda _, said: Upset(contact=frozenset(said[1].split("–"))),
    r"(?:wire|jumper) \S+ \((\S+) to (\S+)\) open": lambda rig, said: Upset(
        wire=rig.wires.index((said[1], said[2]))
    ),
    r"contact (\S+)–(\S+) welded": lambda _, said: Upset(joined=(said[1], said[2])),
    r"solder bridge (\S+) to (\S+)": lambda _, said: Upset(joined=(said[1], said[2])),
    r"(\S+) wiper open": lambda _, said: Upset(wiper=said[1]),
    r"(\S+) open": lambda _, said: Upset(opened=said[1]),
    r"(\S+) shorted": lambda _, said: Upset(shorted=said[1]),
}


def upset_of(rig: Rig, what: str) -> Upset | None:
    """A fault as it is called in the list; None for one that is not known here."""
    for pattern, made in FAULTS.items():
        if said := re.fullmatch(pattern, what):
            return made(rig, said)
    return None


def faults(
    ledger: Ledger, about: str, rig: Rig, result: Mapping[str, Any], taken: Mapping[str, Taken]
) -> None:
    """Each single fault: what the worst reading's meter takes."""
    values = rig.nominal
    able = [one for one in taken.values() if one.answer() == "sum"]
    for told in result["faults"]:
        upset = upset_of(rig, told["what"])
        if upset is None or upset == SOUND or not able:
            continue
        both = [(one, replace(one, upset=upset)) for one in able if _present(one, upset)]
        both = [(one, case) for one, case in both if defined(case) and all(case.linked[1:])]
        cases = [case for _, case in both]
        if told["reading"] is None or not cases:
            continue
        mine = [c for c in cases if c.name == told["reading"]]
        start = f"{about} {told['what']}"
        for case in mine:
            circuits = [case.unit(n, values) for n in range(len(case.drives))]
            for key, rising in (("times_full_scale", True), ("deflection", False)):
                take = partial(takes, case, values=values, rising=rising)
                ledger.ask(f"{start} {key}: fault", told[key], circuits, take, NO_LOAD)
        sound = [one for one, _ in both]
        worst(ledger, f"{start}: worst fault", told["times_full_scale"], sound, cases)


def worst(
    ledger: Ledger, about: str, told: float, sound: Sequence[Taken], cases: Sequence[Taken]
) -> None:
    """No reading's meter takes more than what is told, but for what it takes anyhow."""
    circuits, take = all_takes([*sound, *cases])

    def most(volts: Sequence[Any]) -> float:
        found = [abs(times) for times in take(volts)]
        usual, now = found[: len(cases)], found[len(cases) :]
        grown = [t for t, u in zip(now, usual, strict=True) if t > OVER * max(1.0, u)]
        return max([*grown, abs(told)])

    ledger.ask(about, abs(told), circuits, most, NO_LOAD)


def _present(one: Taken, upset: Upset) -> bool:
    """Whether the thing exists in the reading's state: contacts do where they are closed."""
    places = {frozenset(b.name.split("–")) for b in one.whole.branches}
    return not upset.contact or upset.contact in places


# ---- moments while switching


def steps(rig: Rig, control: str) -> Iterator[tuple[str, str]]:
    """Neighbouring positions; any two of a control that moves anyhow."""
    given, at = rig.spec["controls"][control], rig.controls[control]
    free = isinstance(given, dict) and given.get("moves") == "any"
    wraps = isinstance(given, dict) and given.get("wraps") == "yes"
    for i, one in enumerate(at):
        for j in range(i + 1, len(at)):
            if free or j == i + 1 or (wraps and (i, j) == (0, len(at) - 1)):
                yield one, at[j]


def phases(section: Any, old: str, new: str) -> list[tuple[tuple[str, ...], ...]]:
    """What a section may close on its way: at the old contacts, between, at the new."""
    before, after = section.closed.get(old, ()), section.closed.get(new, ())
    found = [before]
    if section.shorting != "shorting":
        held = [tuple(lug for lug in a if lug in b) for a in before for b in after]
        found.append(tuple(group for group in held if len(group) > 1))
    if section.shorting != "non-shorting":
        found.append((*before, *after))
    return list(dict.fromkeys([*found, after]))


def moments(
    ledger: Ledger, about: str, rig: Rig, result: Mapping[str, Any], taken: Mapping[str, Taken]
) -> None:
    """Every step from or to a reading's state: the most that its meter takes on the way."""
    told: dict[tuple[str, str], float] = {}
    for moment in result["switching"]:
        key = moment["what"], moment["reading"]
        if moment["reading"] and abs(moment["times_full_scale"]) >= abs(told.get(key, 0.0)):
            told[key] = moment["times_full_scale"]
    for one in taken.values():
        if one.answer() == "null":
            continue
        for control, at in one.state.items():
            for old, new in steps(rig, control):
                cases = list(_on_the_way(one, control, old, new)) if at in (old, new) else []
                what = f"{control} between {old} and {new}"
                if cases and (what, one.name) in told:
                    start = f"{about} {one.name} {what}: moment"
                    ways, surely = zip(*cases, strict=True)
                    overload(ledger, start, told[what, one.name], ways, surely)


def _on_the_way(one: Taken, control: str, old: str, new: str) -> Iterator[tuple[Taken, bool]]:
    """Every combination of the sections that move, the two positions at rest aside.

    With it goes whether those that matter to the reading are on their way as well.
    """
    rig = one.rig
    moving = [
        n
        for n, s in enumerate(rig.sections)
        if s.control == control and s.closed.get(old, ()) != s.closed.get(new, ())
    ]
    each = [phases(rig.sections[n], old, new) for n in moving]
    if len(moving) > MOST_MOVING:
        return
    wide = replace(one, moving={n: (*p[0], *p[-1]) for n, p in zip(moving, each, strict=True)})
    told = {lug for b in wide.net.branches for lug in b.name.split("–")}
    matter = [
        k for k, n in enumerate(moving)
        if told & {f"{rig.sections[n].switch}.{lug}" for lug in rig.sections[n].lugs}
    ]  # fmt: skip
    at_rest = tuple(p[0] for p in each), tuple(p[-1] for p in each)
    for chosen in product(*each):
        case = replace(one, moving=dict(zip(moving, chosen, strict=True)))
        still = [[chosen[k] == rest[k] for k in matter] for rest in at_rest]
        if chosen not in at_rest and defined(case):
            yield case, not any(map(all, still))
