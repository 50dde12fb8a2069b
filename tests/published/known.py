"""Published figures beyond the worked examples: standards, tables of the trade, theorems.

Whatever is marked 'from memory' was written down without the standard at hand; it is right as far
as we know, and a test that disagrees with it is a reason to look it up.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Iterator
from functools import partial
from itertools import combinations, pairwise

from rewire.bench.movement import shunted_ohms
from rewire.circuit.ohms import ohms_between
from rewire.cli import INTERRUPTED, READER_GONE
from rewire.draw.scene import MM_PER_POINT, PAPER
from rewire.reading import read_text
from rewire.records.parts import COPPER
from rewire.records.spec import Spec
from rewire.values.dc_network import WORN_CONTACT
from rewire.values.drawer import preferred_near
from rewire.values.quick_sums import (
    BenchMeter,
    Choice,
    chained_multipliers,
    multipliers,
    tapped_shunt,
)
from rewire.values.wiring_values import values_of
from rewire.words.quantity import FARADS, METRES, OHMS, Measure, read
from rewire.words.wire import COLOURS, METALS, awg_diameter, ohms_per_metre, read_colour
from tests.published.record import Record, exact_ohms, half_digit, solved

MEMORY = "standard, from memory"
FOOT = 0.3048
MIL = 25.4e-6

SERIES = {
    "E3": "1.0 2.2 4.7",
    "E6": "1.0 1.5 2.2 3.3 4.7 6.8",
    "E12": "1.0 1.2 1.5 1.8 2.2 2.7 3.3 3.9 4.7 5.6 6.8 8.2",
    "E24": "1.0 1.1 1.2 1.3 1.5 1.6 1.8 2.0 2.2 2.4 2.7 3.0 "
    "3.3 3.6 3.9 4.3 4.7 5.1 5.6 6.2 6.8 7.5 8.2 9.1",
}  # fmt: skip
"""The decades that do not follow their formula; E48, E96, E192 do, but for 9.20 in E192."""
_LETTERS = "IEC 60757, table, as GOST 28763-90 carries it"
_RKM = {
    "R10": 0.10, "R332": 0.332, "1R0": 1.0, "1R5": 1.5, "3R32": 3.32, "10R": 10.0, "33R2": 33.2,
    "590R": 590.0, "1K0": 1e3, "1K5": 1.5e3, "33K2": 33.2e3, "332K": 332e3, "1M0": 1e6,
    "3M32": 3.32e6, "10M": 10e6, "1G0": 1e9, "1T0": 1e12,
}  # fmt: skip
_RKM_FARADS = {
    "p10": 0.1e-12, "1p5": 1.5e-12, "33p2": 33.2e-12, "1n0": 1e-9, "3n32": 3.32e-9,
    "100n": 100e-9, "1µ0": 1e-6, "33µ2": 33.2e-6, "1m0": 1e-3,
}  # fmt: skip
_MILS = {
    -3: 460.0, -2: 409.6, -1: 364.8, 0: 324.9, 2: 257.6, 4: 204.3, 6: 162.0, 8: 128.5, 10: 101.9,
    12: 80.8, 14: 64.1, 16: 50.8, 18: 40.3, 20: 32.0, 22: 25.3, 24: 20.1, 26: 15.9, 28: 12.6,
    30: 10.0, 32: 8.0, 36: 5.0, 40: 3.1,
}  # fmt: skip
_OHMS_PER_1000_FEET = {
    10: 0.9989, 12: 1.588, 14: 2.525, 16: 4.016, 18: 6.385, 20: 10.15, 22: 16.14, 24: 25.67,
    26: 40.81, 28: 64.90, 30: 103.2, 36: 414.8, 40: 1049.0,
}  # fmt: skip
_SOLIDS = {
    "tetrahedron": (4, 3), "cube": (8, 3), "octahedron": (6, 4), "dodecahedron": (20, 3),
    "icosahedron": (12, 5),
}  # fmt: skip
"""Corners, and edges that meet in one."""
_GOLDEN = (1.0 + math.sqrt(5.0)) / 2.0


def known() -> Iterator[Record]:
    """All of them, topic by topic."""
    for some in (
        _preferred, _codes, _colours, _wire, _copper, _networks, _meters, _trade, _paper, _shell,
    ):  # fmt: skip
        yield from some()


def _preferred() -> Iterator[Record]:
    standard = partial(Record, topic="preferred values", source="IEC 60063", known=MEMORY)
    for name, decade in SERIES.items():
        yield standard(
            what=f"decade of {name}",
            published=decade,
            ours=partial(_decade, name, 1),
        )
    for count, digits in ((48, 2), (96, 2), (192, 2)):
        formula = [round(10 ** (n / count), digits) for n in range(count)]
        formula = [9.20 if value == 9.19 else value for value in formula]
        yield standard(
            what=f"E{count}: ten to the n/{count}, three digits"
            + ("; 9.20 in the place of 9.19" if count == 192 else ""),
            published=" ".join(f"{value:.2f}" for value in formula),
            ours=partial(_decade, f"E{count}", digits),
        )


def _decade(name: str, digits: int) -> str:
    """A series walked upwards: from each value to the next above it."""
    values = [1.0]
    while len(values) < 200:
        above = preferred_near(name, values[-1] * 1.0001)[-1]
        if above >= 9.999:
            return " ".join(f"{value:.{digits}f}" for value in values)
        values.append(above)
    raise LookupError(name)


def _codes() -> Iterator[Record]:
    for codes, measure, unit in ((_RKM, OHMS, "Ω"), (_RKM_FARADS, FARADS, "F")):
        for code, value in codes.items():
            yield Record(
                topic="letter codes",
                source="IEC 60062, letter and digit code",
                known=MEMORY,
                what=f"value of {code}",
                published=value,
                ours=partial(_read, code, measure),
                unit=unit,
                within=1e-12 * value,
            )
    yield Record(
        topic="letter codes",
        source="old American drawings",
        known="common practice, no source",
        what="25 mmf",
        published=25e-12,
        ours=partial(_read, "25 mmf", FARADS),
        unit="F",
        within=1e-24,
    )
    yield Record(
        topic="letter codes",
        source="international yard and pound agreement of 1959",
        known=MEMORY,
        what="one foot",
        published=FOOT,
        ours=partial(_read, "1 ft", METRES),
        unit="m",
        within=1e-15,
    )


def _read(code: str, measure: Measure) -> float:
    return read(code, measure)


def _colours() -> Iterator[Record]:
    letters = partial(Record, topic="colour letters", source=_LETTERS, known="secondary copy")
    named = {
        "BK": "black", "BN": "brown", "RD": "red", "OG": "orange", "YE": "yellow", "GN": "green",
        "BU": "blue", "VT": "violet", "GY": "grey", "WH": "white", "PK": "pink", "GD": "gold",
        "TQ": "turquoise", "SR": "silver",
    }  # fmt: skip
    for code, name in named.items():
        yield letters(
            what=f"colour {code}", published=name, ours=partial(COLOURS.__getitem__, code)
        )
    yield letters(
        what="order of the table", published=" ".join(named), ours=lambda: " ".join(COLOURS)
    )
    for both in ("RDBU", "GNYE"):
        yield letters(
            what=f"{both} is one wire's two colours",
            published=both,
            ours=partial(read_colour, both),
        )


def _wire() -> Iterator[Record]:
    for gauge, mils in _MILS.items():
        name = f"{1 - gauge}/0" if gauge < 0 else str(gauge)
        yield Record(
            topic="wire",
            source="ASTM B258, diameters to a tenth of a mil; a university's table (HyperPhysics)",
            known="secondary copy",
            what=f"diameter of AWG {name}",
            published=mils,
            ours=partial(_mils, gauge),
            unit="mil",
            within=0.0501,
        )
    for gauge, ohms in _OHMS_PER_1000_FEET.items():
        yield Record(
            topic="wire",
            source="NBS Circular 31, copper wire tables, annealed, 20 °C "
            "(Handbook 100 rounds the diameters first); a university's table (HyperPhysics)",
            known="secondary copy",
            what=f"resistance of 1000 ft of AWG {gauge}",
            published=ohms,
            ours=partial(_per_1000_feet, gauge),
            unit="Ω",
            within=max(half_digit(ohms), 5e-4 * ohms),
            looser="the table rounds the diameters first",
        )


def _mils(gauge: int) -> float:
    return awg_diameter(gauge) / MIL


def _per_1000_feet(gauge: int) -> float:
    return 1000.0 * FOOT * ohms_per_metre(gauge)


def _copper() -> Iterator[Record]:
    standard = partial(
        Record, topic="copper", source="IEC 60028, annealed copper at 20 °C", known=MEMORY
    )
    yield standard(
        what="resistivity, 1/58 Ω mm²/m",
        published=0.017241,
        ours=lambda: METALS["copper"].resistivity,
        unit="Ω mm²/m",
        within=5.01e-7,
    )
    yield standard(
        what="temperature coefficient",
        published=0.393,
        ours=lambda: 100.0 * COPPER,
        unit="%/K",
        within=1e-9,
    )
    yield standard(
        source="winding rise by resistance, (235 + t2) / (235 + t1), as in IEC 60034-1",
        what="75 °C to 20 °C, ratio of resistances",
        published=round((235.0 + 75.0) / (235.0 + 20.0), 3),
        ours=lambda: 1.0 + 55.0 * COPPER,
        within=5.01e-4,
    )
    yield standard(
        source="NBS Circular 31: copper's resistance, drawn on in a line, is nothing at -234.5 °C",
        what="where 0.393 %/K at 20 °C leads to nothing",
        published=-234.5,
        ours=lambda: 20.0 - 1.0 / COPPER,
        unit="°C",
        within=0.0501,
    )


def _networks() -> Iterator[Record]:
    foster = partial(
        Record,
        topic="networks",
        source="R. M. Foster's theorem: 1 Ω along every edge, (n - 1) / m over one of them",
        known="mathematics",
        unit="Ω",
        within=1e-12,
    )
    for name, (corners, meeting) in _SOLIDS.items():
        edges = corners * meeting // 2
        yield foster(
            what=f"{name}, two neighbouring corners",
            published=(corners - 1) / edges,
            ours=partial(_solid, name),
        )
    cube = partial(foster, source="cube of twelve 1 Ω resistors, the classic exercise")
    yield cube(what="over the face's diagonal", published=3 / 4, ours=partial(_cube, 3))
    yield cube(what="over the body's diagonal", published=5 / 6, ours=partial(_cube, 7))
    for count in (3, 5, 9):
        yield foster(
            source="complete graph of n, 2 / n",
            what=f"1 Ω between any two of {count} places",
            published=2 / count,
            ours=partial(_ohms, count, tuple(combinations(range(count), 2)), 0, 1),
        )
    yield foster(
        source="endless ladder of 1 Ω series and 1 Ω shunt resistors: the golden ratio",
        what="forty steps of it",
        published=_GOLDEN,
        ours=_ladder,
        within=1e-12,
    )
    yield foster(
        source="balanced bridge (C. Wheatstone, 1843)",
        what="10 | 20 over 30 | 60 Ω, 7 Ω across: as without the 7 Ω",
        published=1 / (1 / 40 + 1 / 80),
        ours=_bridge,
        within=1e-12,
    )


def _ohms(count: int, edges: tuple[tuple[int, int], ...], a: int, b: int) -> float:
    return ohms_between(count, [(one, two, 1.0) for one, two in edges], a, b)


def _cube(corner: int) -> float:
    """From corner 0; corners differ in one bit along an edge."""
    edges = tuple(
        (a, b) for a, b in combinations(range(8), 2) if (a ^ b).bit_count() == 1
    )  # fmt: skip
    return _ohms(8, edges, 0, corner)


def _solid(name: str) -> float:
    """Corners of a regular solid; the nearest are preferred_near."""
    places = _CORNERS[name]()
    apart = {
        pair: math.dist(*(places[n] for n in pair)) for pair in combinations(range(len(places)), 2)
    }
    least = min(apart.values())
    edges = tuple(pair for pair, far in apart.items() if far < least + 1e-9)
    if len(edges) != len(places) * _SOLIDS[name][1] // 2:
        raise ArithmeticError(name)
    return _ohms(len(places), edges, *edges[0])


Corner = tuple[float, float, float]


def _signed(*corner: float) -> list[Corner]:
    """A corner with every choice of signs."""
    x, y, z = corner
    return sorted({(a * x, b * y, c * z) for a in (1, -1) for b in (1, -1) for c in (1, -1)})


def _turned(*corner: float) -> list[Corner]:
    """The same, and the coordinates in each cyclic order."""
    x, y, z = corner
    return [*_signed(x, y, z), *_signed(y, z, x), *_signed(z, x, y)]


_CORNERS: dict[str, Callable[[], list[Corner]]] = {
    "tetrahedron": lambda: [c for c in _signed(1, 1, 1) if math.prod(c) > 0],
    "cube": lambda: _signed(1, 1, 1),
    "octahedron": lambda: _turned(0, 0, 1),
    "dodecahedron": lambda: [*_signed(1, 1, 1), *_turned(0, 1 / _GOLDEN, _GOLDEN)],
    "icosahedron": lambda: _turned(0, 1, _GOLDEN),
}


def _ladder() -> float:
    edges = [pair for n in range(1, 41) for pair in ((n - 1, n), (n, 41))]
    return _ohms(42, tuple((a if a < 41 else 41, b) for a, b in edges), 0, 41)


def _bridge() -> float:
    arms = [(0, 1, 10.0), (1, 3, 30.0), (0, 2, 20.0), (2, 3, 60.0), (1, 2, 7.0)]
    return ohms_between(4, arms, 0, 3)


def _meters() -> Iterator[Record]:
    formula = partial(Record, topic="meters", known="mathematics", unit="Ω")
    ranges = (0.01, 0.1, 1.0)
    whole = 100.0 * 1e-3 / (min(ranges) - 1e-3)
    below = [(whole + 100.0) * 1e-3 / amps for amps in sorted(ranges, reverse=True)]
    for n, (low, high) in enumerate(pairwise([0.0, *below]), 1):
        yield formula(
            source="universal shunt: ohms below a tap = (whole shunt + meter) × Im / I",
            what=f"1 mA, 100 Ω; taps for 1 A, 100 mA, 10 mA; section {n}",
            published=high - low,
            ours=partial(_section, n, ranges),
            within=1e-9,
        )
    for amps in (50e-6, 100e-6, 1e-3):
        yield formula(
            source="ohms per volt = 1 / full-scale current (trade's measure of a voltmeter)",
            what=f"{amps * 1e6:g} µA meter of 1 kΩ, 10 V: meter and multiplier, per volt",
            published=1.0 / amps,
            ours=partial(_per_volt, amps),
            unit="Ω/V",
            within=1e-6,
        )
    yield formula(
        source="multipliers in a chain: each range adds (V2 - V1) / Im",
        what="50 µA, 2 kΩ; 10 V, 50 V, 250 V; the last step",
        published=200.0 / 50e-6,
        ours=_last_step,
        within=1e-3,
    )
    yield formula(
        source="half deflection from a source that does not give way: the shunt is the meter",
        known="common practice, no source",
        what="1 GΩ in series, 98 Ω across it: half",
        published=98.0,
        ours=lambda: shunted_ohms(1e9, 98.0, 1.0, 0.5),
        within=1e-4,
    )
    yield formula(
        source="half deflection, exactly: Rs × Rsh / (Rs - Rsh), by Ohm's law",
        what="10 kΩ in series, 100 Ω across it: half",
        published=10e3 * 100.0 / 9900.0,
        ours=lambda: shunted_ohms(10e3, 100.0, 1.0, 0.5),
        within=1e-9,
    )
    yield formula(
        source="a pot set half way, both ends joined: a quarter of it (largest there is)",
        what="1 kΩ pot at 50 %, wiper to both ends",
        published=250.0,
        ours=_half_way,
        within=1e-9,
    )
    yield from _levels()


def summed(spec: Spec) -> dict[str, float]:
    """What a quick sum finds for each resistor."""
    return exact_ohms(values_of(spec, ["original"])[0])


def _section(number: int, ranges: tuple[float, ...]) -> float:
    found = summed(tapped_shunt(BenchMeter(1e-3, None, 100.0), ranges, Choice()))
    return found[f"R{number}"]


def _per_volt(amps: float) -> float:
    found = summed(multipliers(BenchMeter(amps, None, 1e3), [10.0], Choice()))
    return (found["R1"] + 1e3) / 10.0


def _last_step() -> float:
    movement = BenchMeter(50e-6, None, 2e3)
    return summed(chained_multipliers(movement, [10.0, 50.0, 250.0], Choice()))["R3"]


def _half_way() -> float:
    """What the rest of the equipment feels, the meter being somewhere else."""
    wiring = """{parts: {RV1: {pot: 1 kohm, setting: 50 %}, M1: {meter: 1 mA, resistance: 1 ohm}},
      nets: [[IN, RV1.wiper], [OUT, RV1.ccw, RV1.cw, M1.+, M1.-]]}"""
    text = f"""{{rewire: 1, title: pot, points: {{IN: {{}}, OUT: {{}}}},
      readings: {{i: {{current: [IN, OUT], full_scale: 1 mA}}}},
      wirings: {{original: {wiring}, other: {wiring}}}}}"""
    return values_of(read_text(text.encode()))[0].readings[0].insertion_ohms or 0.0


def _levels() -> Iterator[Record]:
    level = partial(
        Record,
        topic="level meters",
        source="standard volume indicator, ANSI C16.5, IEC 60268-17",
        known=MEMORY,
        unit="%",
        within=0.501,
    )
    for marked, percent in ((0, 100), (-1, 89), (-3, 71), (-6, 50), (-10, 32), (-20, 10)):
        yield level(
            what=f"pointer at {marked} on the percent arc, with 0 at 100",
            published=float(percent),
            ours=partial(_pointer, float(marked)),
        )

    yield level(
        what="0 on the arc, where +3 is the end of it",
        published=71.0,
        ours=lambda: 100.0 * _pointer(0.0) / _pointer(3.0),
    )


def _pointer(level: float) -> float:
    """3600 Ω and a movement of 3900 Ω, 200 µA; the deflection in percent of that at 0."""
    zero = math.sqrt(0.6) * 10 ** (4 / 20)
    parts = [
        "M1: {meter: 200 uA, resistance: 3900 ohm, between: [FOOT, OUT]}",
        "R1: {resistor: 3600 ohm, between: [IN, FOOT]}",
    ]
    volts = {"at": zero * 10 ** (level / 20), "zero": zero}
    drives = [f"{n}: {{voltage: [IN, OUT], full_scale: {v} V}}" for n, v in volts.items()]
    found = solved(parts, drives, "IN: {}, OUT: {}, FOOT: {}").readings
    stands = {one.name: one.deflection or 0.0 for one in found}
    return 100.0 * stands["at"] / stands["zero"]


def _trade() -> Iterator[Record]:
    yield Record(
        topic="contacts",
        source="MIL-DTL-18396E, 3.5.4.10: 10 mΩ new, 20 mΩ after endurance",
        known="standard seen",
        what="most that a contact of unknown resistance counts",
        published=20.0,
        ours=lambda: 1000.0 * WORN_CONTACT,
        unit="mΩ",
        within=1e-12,
    )

    definition = partial(
        Record,
        topic="contacts",
        source="Ohm's law; which contact opens first is MIL-DTL-18396E, 3.2.5 and 3.2.6 (seen)",
        known="mathematics",
        unit="times full scale",
        within=1e-6,
    )
    what = "1 mA, 100 Ω; shunts for 10 mA and 100 mA on two throws; the most it takes in between"
    yield definition(
        what=f"{what}, shorting, with 10 mA: both shunts at once, by Ohm's law",
        published=10.0 * 0.01 / (0.01 + 0.09 + 0.99),
        ours=partial(between_two_shunts, "shorting"),
    )
    yield definition(
        what=f"{what}, nonshorting, with 100 mA: no shunt at all",
        published=100.0,
        ours=partial(between_two_shunts, "non-shorting"),
        within=1e-4,
    )


def between_two_shunts(timing: str) -> float:
    text = f"""
rewire: 1
title: two shunts
controls: {{RANGE: [LOW, HIGH]}}
points: {{IN: {{}}, OUT: {{}}}}
parts:
  M1: {{meter: 1 mA, resistance: 100 ohm, between: [IN, OUT]}}
  R1: {{resistor: 11.111111 ohm, between: [IN, S1.A1]}}
  R2: {{resistor: 1.010101 ohm, between: [IN, S1.A2]}}
  S1: {{switch: SP2T, control: RANGE, timing: {timing}}}
readings:
  low: {{when: {{RANGE: LOW}}, current: [IN, OUT], full_scale: 10 mA}}
  high: {{when: {{RANGE: HIGH}}, current: [IN, OUT], full_scale: 100 mA}}
wirings:
  original: {{wires: [[S1.A, OUT]]}}
  other: {{wires: [[S1.A, OUT]]}}
"""
    moments = values_of(read_text(text.encode()))[0].switching
    return max(
        moment.times_full_scale or 0.0 for moment in moments
        if timing == "non-shorting" or moment.reading == "low"
    )  # fmt: skip


def _paper() -> Iterator[Record]:
    sizes = {
        "a4": ("ISO 216", MEMORY, 210.0, 297.0),
        "letter": ("ANSI/ASME Y14.1, 8.5 × 11 in", MEMORY, 8.5 * 25.4, 11 * 25.4),
    }
    for paper, (source, how, *sides) in sizes.items():
        for side, published in zip(("width", "height"), sides, strict=True):
            yield Record(
                topic="paper",
                source=source,
                known=how,
                what=f"{side} of {paper.upper() if paper == 'a4' else 'Letter'}",
                published=published,
                ours=partial(_side, paper, side),
                unit="mm",
                within=1e-9,
            )
    yield Record(
        topic="paper",
        source="ISO 216: the sides are as 1 to the root of 2, to a millimetre",
        known="mathematics",
        what="height of A4 over its width",
        published=math.sqrt(2.0),
        ours=lambda: PAPER["a4"][1] / PAPER["a4"][0],
        within=0.0035,
    )
    yield Record(
        topic="paper",
        source="ISO 32000-1, 8.3.2.3: 72 points in an inch",
        known=MEMORY,
        what="one point",
        published=25.4 / 72.0,
        ours=lambda: MM_PER_POINT,
        unit="mm",
        within=1e-12,
    )


def _side(paper: str, side: str) -> float:
    both = {"a4": PAPER["a4"], "letter": PAPER["letter"]}[paper]
    return both[0] if side == "width" else both[1]


def _shell() -> Iterator[Record]:
    shell = partial(
        Record, topic="exit statuses", source="POSIX shell: 128 and the signal's number",
        known="common practice, no source",
    )  # fmt: skip
    yield shell(what="ended by SIGINT (2)", published=130.0, ours=lambda: float(INTERRUPTED))
    yield shell(what="ended by SIGPIPE (13)", published=141.0, ours=lambda: float(READER_GONE))
