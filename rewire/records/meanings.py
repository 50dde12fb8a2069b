"""What each key of a file means, in a sentence, and how it is written.

The schema shows these sentences in an editor; ``docs/spec.md`` is made from them.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class Meaning:
    """One key."""

    said: str
    example: str
    """What may stand behind it, as YAML on one line."""


Meanings = Mapping[str, Meaning]


def _meanings(**keys: tuple[str, str]) -> Meanings:
    """Keys by their names; an underscore at the end is for words that Python keeps for itself."""
    return {key.removesuffix("_"): Meaning(*told) for key, told in keys.items()}


MEANINGS: Mapping[str, Meanings] = {
    "Spec": _meanings(
        rewire=("the version of the format", "1"),
        title=(
            "what is done to which set; stands on every page",
            "Meter switch of a 40 W amplifier",
        ),
        equipment=("the set in a sentence", "Charger for lead batteries with one meter"),
        summary=("what the job is, in a few sentences", "The switch was replaced once already."),
        document=("who answers for it", "{author: the bench, revision: B}"),
        controls=(
            "what the operator moves: name and positions, in order of travel",
            "{METER: [BIAS, CATHODE, SCREEN]}",
        ),
        never=(
            "positions that cannot occur together, because something locks them",
            "[{SEND: OPERATE, POWER: 'OFF'}]",
        ),
        points=(
            "points of the set that the wiring must reach and that no swap changes",
            "{CHASSIS: {chassis: yes}, HT: {volts: 420 V}}",
        ),
        parts=(
            "parts that stay in the set in every wiring",
            "{R31: {resistor: 1 ohm, between: [CHASSIS, HT_MINUS]}}",
        ),
        readings=(
            "what the meter must show, and when",
            "{anode: {when: {METER: ANODE}, current: [K, CHASSIS], full_scale: 100 mA}}",
        ),
        rules=(
            "connections that must or must not exist, whatever the original did",
            "[{connect: [BIAS, CHASSIS], while_switching: yes}]",
        ),
        wirings=(
            "the wiring as the maker built it, called original, and at least one other",
            "{original: {wires: [[S1.A, M1.+]]}, planned: {wires: [[S2.A, M1.+]]}}",
        ),
        options=(
            "other movements for which the values are worked out too",
            "[{meter: 200 uA, resistance: 620 ohm}]",
        ),
        bench=("test gear at hand", "{series_resistor: 100 ohm, rating: 10 W}"),
        cautions=("more cautions for the packet; they stand first", "[Mind the spring of the lid]"),
        found=(
            "what was found on the bench besides the wiring",
            "[{what: burnt grid stopper, plan: replace}]",
        ),
        procedure=("work before and after the rewiring", "{before: [{do: pull the mains plug}]}"),
        acceptance=(
            "tests of the finished set",
            "[{test: power into 8 ohm, expect: 36 W to 44 W}]",
        ),
        pages=(
            "scanned pages to be annotated",
            "[{image: page12.png, notes: [{at: [0.42, 0.31], about: M1}]}]",
        ),
    ),
    "Document": _meanings(
        author=("who answers for it", "the bench"),
        date=("of this revision, as you write dates", "2025-03-14"),
        revision=("its letter or number", "B"),
        licence=("under which terms it may be shared", "CC BY 4.0"),
    ),
    "Control": _meanings(
        positions=("their names, in order of travel", "[BIAS, CATHODE, SCREEN]"),
        wraps=("whether the knob goes from the last position on to the first", "yes"),
        moves=("any: from each position straight to any other, as push buttons do", "any"),
        note=("for people", "the stop is worn"),
    ),
    "Point": _meanings(
        chassis=("yes for the chassis; live where the set has no mains transformer", "yes"),
        volts=("to chassis, in operation; unknown if not given, never safe", "-38 V"),
        ac=("whether the volts are AC", "yes"),
        rises_to=("what it rises to with its load taken off", "540 V"),
        source_resistance=("what the volts come through", "15 kohm"),
        note=("for people", "low end of the screen divider"),
        where=("where it is", "tag 4 of the bias board"),
    ),
    "Part": _meanings(
        between=(
            "of a part with two leads: the two terminals they go to, in the order of its lugs",
            "[CHASSIS, HT_MINUS]",
        ),
        replaces=(
            "whose work it does: a part of the original, or lug by lug; a part of the same name "
            "needs none",
            "M1",
        ),
        note=("for people", "two in one sleeve"),
        where=("where it is", "strip behind the meter, tags 5 and 6"),
        label=("what is printed on it", "Z12"),
    ),
    "Switch": _meanings(
        switch=(
            "poles and throws (SPDT, DPDT, 3P4T, 2P6T), or table where contacts are listed",
            "3P4T",
        ),
        control=("the control that moves it", "METER"),
        timing=(
            "shorting makes before it breaks; unknown is taken at its worst for the new "
            "wiring; one word, or one a pole by any of its lugs; if left out, non-shorting",
            "{A: non-shorting, C: shorting}",
        ),
        positions=(
            "position of the control and the throw it stands on, or open; by itself the throws go "
            "in the order of the positions",
            "{'OFF': open, LOW: 1, HIGH: 2}",
        ),
        lugs=("your own names of the lugs, pole by pole, common first", "[[1, 2, 3], [4, 5, 6]]"),
        contacts=(
            "of a table: position and the groups of lugs that are closed there",
            "{UP: [[1, 2], [4, 5]], DOWN: [[2, 3]]}",
        ),
        style=("how it is built: decides how it is drawn and what a wiper passes over", "rotary"),
        layout=("where the lugs sit, seen from behind", "{decks: 3}"),
        rating=("ratings of its contacts", "{volts: 250 V, amps: 1 A, shaft_volts: 500 V}"),
        contact_resistance=("of a closed contact; if not given, 0 to 20 milliohm", "10 mohm"),
        mount=("what the panel sees of it", "{bush: M9x0.75, shaft: 6 mm, index: 30 deg}"),
    ),
    "Layout": _meanings(
        decks=("number of wafers, or the poles on each, nearest the knob first", "[[A, C], [B]]"),
        step=("degrees from one throw to the next", "30"),
        clock=("lugs and where they sit, as hours on a clock", "{A1: 12, A2: '1:30'}"),
        inside=("lugs of the inner ring", "[A, B]"),
        rows=("lugs row by row, a dot where there is none", "[[A1, B1], [A, B], [A2, B2]]"),
    ),
    "SwitchRating": _meanings(
        volts=("between contacts", "250 V"),
        amps=("that a contact may break", "1 A"),
        shaft_volts=("from a contact to shaft and panel", "500 V"),
    ),
    "SwitchMount": _meanings(
        hole=("diameter of the hole in the panel", "9.5 mm"),
        bush=("its thread, or its diameter", "M9x0.75"),
        shaft=("diameter", "6.35 mm"),
        shaft_form=("round, flat (a D), splined, slotted or square", "flat"),
        shaft_length=("in front of the panel", "12 mm"),
        body=("behind the panel: a diameter, or width and height", "[32 mm, 28 mm]"),
        depth=("behind the panel, lugs included", "38 mm"),
        room=("free behind the panel, where it sits", "45 mm"),
        index=("from one position to the next", "30 deg"),
        stops=("positions that its stops leave; none where it turns all round", "3"),
    ),
    "MeterMount": _meanings(
        hole=("diameter of the hole in the panel", "66 mm"),
        bezel=("in front of the panel: a diameter, or width and height", "[80 mm, 70 mm]"),
        studs=(
            "from the centre of the hole to the right and up, seen from the front; or on a circle, "
            "clockwise from twelve: {circle: 70 mm, at: [90 deg, 270 deg]}",
            "[[-19 mm, 0 mm], [19 mm, 0 mm]]",
        ),
        stud=("thread or diameter of its studs", "M3"),
        body=("behind the panel: a diameter, or width and height", "64 mm"),
        depth=("behind the panel, studs included", "35 mm"),
        room=("free behind the panel, where it sits", "50 mm"),
    ),
    "Meter": _meanings(
        meter=("current or voltage at full scale; lugs + and -", "1 mA"),
        resistance=("of the coil; unknown is enough for check", "60 ohm"),
        resistance_tolerance=("how far its resistance may be off", "2 %"),
        accuracy=("of the pointer, percent of full scale", "2 %"),
        zero=("where the pointer rests: left, centre or right", "centre"),
        scales=("the arcs printed on the dial", "[0-75, 0-250]"),
        ac=("made for AC, with its rectifier in the case or an iron", "yes"),
        dial=("a new plate to be printed: rewire draw --view dial", "{radius: 38 mm}"),
        mount=("what the panel sees of it", "{hole: 66 mm, bezel: [80 mm, 80 mm]}"),
    ),
    "Dial": _meanings(
        radius=("from the pivot to the outer arc", "38 mm"),
        sweep=(
            "of the pointer from one end of the scale to the other; if not given, 90 deg",
            "90 deg",
        ),
        pivot=(
            "from the lower left of the plate, right and up, negative below it; if not given, "
            "in the middle",
            "[32 mm, 8 mm]",
        ),
        plate=("width and height; if not given, what the arcs need", "[64 mm, 58 mm]"),
        outline=(
            "rectangle, circle, or sector: a rectangle whose upper edge is an arc about the pivot",
            "sector",
        ),
        screws=("holes, from the plate's lower left", "[[6 mm, 5 mm], [58 mm, 5 mm]]"),
        screw_hole=("their diameter; if not given, 3 mm", "2.5 mm"),
        flaps=("of a rectangle: to be folded behind the plate at its left and right", "6 mm"),
    ),
    "Resistor": _meanings(
        resistor=(
            "value; + in series, || in parallel; fit leaves it to be worked out; lugs 1 and 2",
            "180 ohm + 9.1 ohm",
        ),
        for_=("with fit: the reading that it must make right", "bias"),
        choose=("with fit: the series to take it from", "E96"),
        tolerance=("unknown if not given: then there is no worst case", "1 %"),
        rating=("its rating in watts", "0.5 W"),
        working_volts=("volts it may have across it", "500 V"),
    ),
    "Pot": _meanings(
        pot=("value from end to end; lugs ccw, wiper and cw, seen from the shaft", "200 ohm"),
        setting=("percent of its travel from ccw, or fit: to be worked out", "fit"),
        for_=("with fit: the reading that it is set in", "cathode"),
        tolerance=("of its value from end to end", "10 %"),
        rating=("its rating in watts, over the whole track", "0.5 W"),
        turns=("of the shaft, from end to end", "10"),
    ),
    "Capacitor": _meanings(
        capacitor=("value; no path for DC; lugs 1 and 2", "8 uF"),
        rating=("its rating in volts", "450 V"),
        polarised=("an electrolytic: lug 1 is plus", "yes"),
    ),
    "Choke": _meanings(
        choke=("inductance; lugs 1 and 2", "10 H"),
        resistance=("of the winding: what counts at DC", "120 ohm"),
    ),
    "Diode": _meanings(
        diode=("silicon, germanium, or the forward voltage; lugs A and K", "silicon"),
    ),
    "Lamp": _meanings(
        lamp=("rated volts; lugs 1 and 2", "6.3 V"),
        current=("at rated volts; cold its resistance is about a tenth", "0.3 A"),
    ),
    "Fuse": _meanings(
        fuse=("rated current; lugs 1 and 2", "100 mA"),
        resistance=("cold; if not given, anything from zero up", "1.5 ohm"),
    ),
    "Strip": _meanings(
        strip=("number of tags, or their names; they are not connected to each other", "6"),
    ),
    "Reading": _meanings(
        when=("positions in which it is read", "{METER: BIAS}"),
        current=(
            "the current enters at the first terminal and leaves at the second",
            "[K, CHASSIS]",
        ),
        voltage=("the volts stand from the first terminal to the second", "[HT, CHASSIS]"),
        full_scale=("true value at which the pointer stands at full scale", "100 mA"),
        source_resistance=("of the voltage that is read", "10 kohm"),
        ac=("whether it is AC; figures are rms then", "yes"),
        meter=("which meter, where there are two; by its name in the original", "M1"),
        scale=("the arc that the operator reads", "0-100"),
        also=("currents that flow as well", "[{current: [SCREEN, CHASSIS], amount: 6 mA}]"),
        marks=("points that must be checked, and why", "{60 mA: red line}"),
        accept=(
            "percent of full scale that it may be off; if not given, the accuracy of the meter, at "
            "least 5 %",
            "5 %",
        ),
    ),
    "Drive": _meanings(
        current=("where it enters and leaves", "[SCREEN, CHASSIS]"),
        amount=("how much flows", "6 mA"),
    ),
    "Rule": _meanings(
        connect=("two terminals that must be connected", "[BIAS_RETURN, CHASSIS]"),
        isolate=("two terminals that must not be connected", "[SCREENS, CHASSIS]"),
        within=("with connect: most ohms; if not given, zero", "120 ohm"),
        beyond=("with isolate: least ohms; if not given, no path is allowed", "100 kohm"),
        while_switching=("whether it holds while the knob turns too", "yes"),
        when=("positions in which it holds; if not given, always", "{METER: [BIAS, SCREEN]}"),
        why=("what happens otherwise; it is printed", "without bias the valves run away"),
    ),
    "Wiring": _meanings(
        parts=(
            "parts that belong to this wiring only",
            "{S2: {switch: 4P3T, control: METER}}",
        ),
        nets=(
            "what a schematic shows: all of these are connected; a list, or names and lists",
            "[[CHASSIS, R35.2, R36.2]]",
        ),
        wires=("what you see: one wire each", "[[S3.A, M1.+, RD]]"),
        changes=("differences from the original that are meant", "[{remove: C9, why: not needed}]"),
        readings=(
            "readings that replace those of the same name, for a new dial",
            "{anode: {when: {METER: ANODE}, current: [K, CHASSIS], full_scale: 200 mA}}",
        ),
        note=("for people", "as on the maker's sheet 12"),
        role=(
            "plan, found (on the bench; the default for the name as-found) or tried and given up",
            "found",
        ),
    ),
    "Wire": _meanings(
        from_=("one end: a point or a lug; [from, to, colour] says the same in short", "S3.A"),
        to=("the other end; cut for one that was cut off", "M1.+"),
        id=("its number; if not given, W1, W2 … and J1, J2 … for jumpers", "W7"),
        colour=("letters of IEC 60757, two for each colour", "BKWH"),
        gauge=("AWG, or mm2", "0.5 mm2"),
        insulation=("volts that its insulation is good for", "600 V"),
        twisted_with=("the wire it is twisted with", "W8"),
        screened=("whether it has a screen", "yes"),
        length=("as cut", "120 mm"),
        note=("for people", "sleeve it"),
    ),
    "Change": _meanings(
        insert=("a new part now in series; with between", "R50"),
        link=("a new part across separate circuits; with between", "R47"),
        drop=("two terminals that are disconnected", "[A, B]"),
        join=("two terminals that are shorted to each other", "[A, B]"),
        gap=("a connection that opens for a moment while the knob turns", "[A, B]"),
        bridge=("two terminals that short for a moment while the knob turns", "[A, B]"),
        interrupt=("current that stops for a moment while the knob turns", "[A, B]"),
        stray=("current that flows for a moment while the knob turns", "[A, B]"),
        remove=("an original part that is left out", "C9"),
        reverse=("a part that is turned round", "M1"),
        between=(
            "with insert and link: the two terminals, as the original calls them",
            "[A, M1.+]",
        ),
        when=("positions in which it is meant; if not given, in all", "{METER: [BIAS, SCREEN]}"),
        why=("the reason; it is printed", "test resistor for a millivoltmeter"),
        reversible=("whether the set can be put back as it was", "no"),
    ),
    "MeterOption": _meanings(
        meter=("current or voltage at full scale", "200 uA"),
        resistance=("of the coil", "620 ohm"),
        resistance_tolerance=("how far its resistance may be off", "5 %"),
        accuracy=("of the pointer, percent of full scale", "2 %"),
        replaces=("which meter, where there are two; by its name in the original", "M1"),
        note=("for people", "measured"),
    ),
    "Bench": _meanings(
        series_resistor=("between supply and set in the bench test: protects the meter", "100 ohm"),
        rating=("its rating in watts", "10 W"),
        supply_volts=("the most your supply gives", "30 V"),
        supply_amps=("likewise", "2 A"),
    ),
    "Found": _meanings(
        what=("what was found", "wax-paper capacitor across the mains inlet"),
        where=("where it is", "rear of the chassis"),
        plan=("keep, remove or replace", "replace"),
        why=("the reason", "leaky, and not a safety type"),
    ),
    "Procedure": _meanings(
        before=("steps before the rewiring", "[{do: pull the mains plug}]"),
        after=("steps after it", "[{do: set RV41 on the bench}]"),
    ),
    "Task": _meanings(
        do=("what to do", "discharge both reservoir capacitors through 10 kohm"),
        where=("where it is", "first and second reservoir capacitor"),
        caution=("what can hurt", "up to 540 V"),
    ),
    "Acceptance": _meanings(
        test=("its name; a bench log calls it so", "cathode current at rest"),
        how=("how it is done", "'METER at CATHODE, ten minutes after switching on'"),
        expect=("a range, or a text", "80 mA to 100 mA"),
    ),
    "Page": _meanings(
        image=("a picture beside the spec or below it", "scans/sheet-12.png"),
        title=("what it is", "'Service folder, sheet 12'"),
        notes=("what to write on it", "[{at: [0.42, 0.31], about: R40}]"),
    ),
    "PageNote": _meanings(
        at=(
            "fractions of width and height, from the top left; a click on the page that "
            "`rewire watch` shows gives them",
            "[0.42, 0.31]",
        ),
        about=("a part or point: what becomes of it is written there", "R40"),
        text=("your own words", "count the poles"),
    ),
    "Drawer": _meanings(
        rewire_drawer=("the version of the format", "1"),
        title=("whose drawer", "the bench's drawer"),
        note=("for people", "counted in spring"),
        resistors=(
            "resistors with their keys of a spec, and quantity",
            "[{resistor: 10 ohm, tolerance: 1 %, quantity: 5}]",
        ),
        pots=("pots likewise", "[{pot: 1 kohm, quantity: 2}]"),
        switches=("switches likewise, without control", "[{switch: 3P4T, timing: shorting}]"),
        meters=("meters likewise", "[{meter: 1 mA, resistance: 60 ohm}]"),
    ),
    "BenchLog": _meanings(
        rewire_bench=("the version of the format", "1"),
        wiring=("the wiring that was measured", "substitute"),
        continuity=(
            "readings of the ohmmeter",
            "[{when: {METER: BIAS}, between: [S4.A, S4.A1], found: closed}]",
        ),
        calibration=(
            "readings of the meter under test",
            "[{reading: bias, applied: 5 mA, indicated: 98 %}]",
        ),
        acceptance=("tests of the finished set", "[{test: power into 8 ohm, found: 39 W}]"),
        by=("who measured", "the bench"),
        date=("when", "2025-03-20"),
        serial=("of the set", "'0417'"),
        instruments=("with what", "digital ohmmeter"),
        notes=("for people, a text or a list", "[mains at 228 V]"),
    ),
    "Buzzed": _meanings(
        when=("positions of the controls", "{METER: BIAS}"),
        between=("what the two probes are on", "[S4.A, S4.A1]"),
        found=("closed, open, or ohms", "9.1 ohm"),
        note=("for people", "read twice"),
    ),
    "Indicated": _meanings(
        reading=("which reading", "bias"),
        applied=("the true value", "5 mA"),
        indicated=("where the pointer stood: percent, or a value of the arc", "98 %"),
        note=("for people", "pointer sticks a little"),
    ),
    "Accepted": _meanings(
        test=("its name in the spec", "power into 8 ohm"),
        found=("what came out", "39 W"),
        note=("for people", "just below clipping"),
    ),
    "Buzzout": _meanings(
        rewire_switch=("the version of the format", "1"),
        lugs=("a name for each lug", "[1, 2, 3, 4, 5, 6]"),
        detents=(
            "positions in order of travel, and the groups of lugs that read closed in each",
            "{up: [[1, 2], [4, 5]], down: [[2, 3], [5, 6]]}",
        ),
        open=("likewise what read open, if you wrote that down", "{up: [[1, 3]]}"),
        between=(
            "what read closed with the knob half way, step by step: says the timing",
            "[[[1, 2, 3]]]",
        ),
        title=("what it is", "switch from the junk box"),
        note=("for people", "black wafer"),
        timing=("if it is known", "shorting"),
        style=("how it is built", "rotary"),
        rating=("what is printed on it", "{volts: 250 V, amps: 1 A}"),
        mount=("what the panel sees of it", "{bush: 3/8-32, shaft: 1/4 in, depth: 38 mm}"),
    ),
}
"""Record → key → what it means. A part has the keys of ``Part`` too."""


def example_of(key: str | None) -> str | None:
    """How a key is written, as a way out; None for a name of the user's choice."""
    told = next((keys[key] for keys in MEANINGS.values() if key in keys), None) if key else None
    return f"write {key}: {told.example}" if told else None


def meaning_of(record: type, key: str) -> Meaning:
    """What a key of a record means.

    Raises:
        KeyError: it is not said.
    """
    told = next(
        (MEANINGS[one.__name__][key] for one in record.__mro__
         if key in MEANINGS.get(one.__name__, {})),
        None,
    )  # fmt: skip
    if told is None:
        raise KeyError(f"{record.__name__}.{key}")
    return told
