"""Plates, read back from their SVG: a protractor, a ruler and the published laws of their scales.

The reader takes lines and texts out of the file and knows nothing of the program's records.
"""

from __future__ import annotations

import re
from dataclasses import dataclass
from itertools import combinations, pairwise
from math import atan2, cos, degrees, hypot, inf, log10, radians, sin

import pytest
from hypothesis import assume, given, settings, strategies as st

from rewire.draw.dial import DialRefused, dial_plate
from rewire.draw.paint import svg_of
from rewire.draw.scene import Panel, Scene
from rewire.draw.true_size import face_down
from rewire.records.mount import Dial
from rewire.values.dial_arcs import PlateArc

XY = tuple[float, float]
EXACT = 0.05
"""Degrees."""
ROUNDED = 0.008
"""Millimetres that a place in the file may be off, for it is written in hundredths."""
PATH = re.compile(r'<path d="M([^"Z]+)Z?" fill="([^"]+)" stroke="([^"]+)" stroke-width="([^"]+)"')
TEXT = re.compile(r"<text ([^>]*)>([^<]+)<")
ATTRIBUTE = re.compile(r'(\S+)="([^"]*)"')


@dataclass(frozen=True)
class Written:
    """A text of the file: its ink, y downwards."""

    text: str
    left: float
    top: float
    right: float
    bottom: float
    more: str

    @property
    def middle(self) -> XY:
        return (self.left + self.right) / 2, (self.top + self.bottom) / 2

    def away(self, point: XY) -> float:
        """From a point to the ink."""
        dx = max(self.left - point[0], 0.0, point[0] - self.right)
        dy = max(self.top - point[1], 0.0, point[1] - self.bottom)
        return hypot(dx, dy)


@dataclass(frozen=True)
class Read:
    """What the file holds."""

    strokes: list[tuple[XY, XY]]
    """Lines of two points: marks, among them the two of the pivot's cross."""
    courses: list[list[XY]]
    texts: list[Written]
    colours: set[str]


def read(panel: Panel) -> Read:
    svg = svg_of(Scene(panel.width, panel.height, panel.items))
    courses, colours = [], set()
    for path in PATH.finditer(svg):
        numbers = [tuple(map(float, pair.split())) for pair in path[1].split("L")]
        courses.append([(x, y) for x, y in numbers])
        colours |= {path[2], path[3]}
    texts = []
    for head, text in TEXT.findall(svg):
        said = dict(ATTRIBUTE.findall(head))
        left, base, cap = float(said["x"]), float(said["y"]), 0.73 * float(said["font-size"])
        right = left + float(said["textLength"])  # DejaVu Sans: figures are 0.729 of the size high
        texts.append(Written(text, left, base - cap, right, base, head))
    pairs = [(one[0], one[1]) for one in courses if len(one) == 2]
    return Read(pairs, courses, texts, colours)


def linear(high: float, zero: str = "left", low: float = 0.0, **more: object) -> PlateArc:
    said = {"names": (f"R {high:g} mA",), "readings": ("r",), **more}
    return PlateArc("linear", low, high, "mA", zero, **said)  # type: ignore[arg-type]


def turn(pivot: XY, point: XY) -> float:
    """Degrees clockwise from upright, y downwards."""
    return degrees(atan2(point[0] - pivot[0], pivot[1] - point[1]))


def marks(found: Read, pivot: XY) -> list[tuple[float, float, float]]:
    """Radial strokes: degrees at the line, at the tip, and their length."""
    at_pivot = [
        s for s in found.strokes if all(hypot(x - pivot[0], y - pivot[1]) < 2 for x, y in s)
    ]
    rest = [s for s in found.strokes if s not in at_pivot]
    return [(turn(pivot, a), turn(pivot, b), hypot(b[0] - a[0], b[1] - a[1])) for a, b in rest]


DIAL = Dial(radius=38.0, sweep=90.0, pivot=(40.0, 12.0), plate=(80.0, 66.0))
PIVOT = (40.0, 54.0)
"""The same from the upper left."""


def straight(share: float) -> float:
    return share


@pytest.mark.parametrize(
    ("arc", "figures"),
    [  # by the rule of three: where a figure stands between the two ends of the sweep
        (linear(250.0), {"0": -45.0, "50": -27.0, "100": -9.0, "200": 27.0, "250": 45.0}),
        (linear(75.0), {"0": -45.0, "25": -15.0, "50": 15.0, "75": 45.0}),
        (linear(4.0, "right"), {"0": 45.0, "1": 22.5, "2": 0.0, "3": -22.5, "4": -45.0}),
        (linear(15.0, low=10.0), {"10": -45.0, "11": -27.0, "12": -9.0, "15": 45.0}),
    ],
)
def test_figures_and_marks_stand_at_their_angles(arc: PlateArc, figures: dict[str, float]) -> None:
    found = read(dial_plate(DIAL, [arc], straight))
    for label, angle in figures.items():
        (text,) = [one for one in found.texts if one.text == label]
        mark = min(marks(found, PIVOT), key=lambda one: abs(one[0] - angle))
        assert mark[0] == pytest.approx(angle, abs=EXACT)
        assert mark[1] == pytest.approx(angle, abs=EXACT)
        longest = max(one[2] for one in marks(found, PIVOT))
        assert mark[2] == pytest.approx(longest, abs=2 * ROUNDED)
        assert abs(turn(PIVOT, text.middle) - angle) < EXACT
    assert {one.text for one in found.texts} >= set(figures)


def test_a_centre_zero_has_its_zero_upright_and_figures_both_ways() -> None:
    found = read(dial_plate(DIAL, [linear(50.0, "centre")], straight))
    at = [(one.text, round(turn(PIVOT, one.middle), 1)) for one in found.texts[:-1]]
    assert ("0", 0.0) in at
    assert sorted(angle for text, angle in at if text == "50") == [-45.0, 45.0]


@pytest.mark.parametrize("high", [75.0, 250.0, 1.5, 30.0, 100.0, 4.0, 1000.0, 7.5])
def test_divisions_are_1_2_or_5_times_a_power_of_ten(high: float) -> None:
    """IEC 60051-1, from memory."""
    found = read(dial_plate(DIAL, [linear(high)], straight))
    angles = sorted({round(one[0], 1) for one in marks(found, PIVOT)})
    steps = [b - a for a, b in pairwise(angles)]
    assert max(steps) - min(steps) < 0.25
    step = high / (len(angles) - 1)
    lead = step / 10 ** (log10(step) // 1)
    assert min(abs(lead - one) for one in (1, 2, 5, 10)) < 1e-6
    assert radians(min(steps)) * 38.0 > 0.7  # millimetres; common practice, no source


# Laws ---------------------------------------------------------------------------------------


def test_decibels_stand_where_the_table_of_ratios_puts_them() -> None:
    """Ratio to full scale, as any table of decibels has it (voltage, three figures)."""
    table = {"+3": 1.0, "0": 0.708, "−3": 0.501, "−10": 0.224, "−20": 0.0708}
    arc = PlateArc("dB", -20.0, 3.0, "dB", "left", ("LEVEL dB",), ("level",))
    dial = Dial(radius=60.0, sweep=90.0)
    found = read(dial_plate(dial, [arc], straight))
    pivot = pivot_in(found)
    for label, share in table.items():
        (text,) = [one for one in found.texts if one.text == label]
        assert turn(pivot, text.middle) == pytest.approx(90 * share - 45, abs=EXACT + 0.05)


def test_zero_on_a_level_meter_lies_at_71_percent_of_full_scale() -> None:
    """IEC 60268-17, from memory: the reference of a VU meter is 71 ± 2 % of full scale."""
    arc = PlateArc("dB", -20.0, 3.0, "VU", "left", ("LEVEL",), ("level",))
    assert 0.69 <= arc.share(0.0) <= 0.73


def test_ohms_stand_where_the_series_ohmmeter_puts_them() -> None:
    """Rin / (Rin + Rx): textbooks; half scale at Rin, a third at twice, two thirds at half."""
    arc = PlateArc("ohm", inf, 20.0, "Ω", "left", ("OHMS",), ("ohms",))
    found = read(dial_plate(Dial(radius=60.0, sweep=90.0), [arc], straight))
    pivot = pivot_in(found)
    expected = {"∞": -45.0, "0": 45.0, "20": 0.0, "10": 15.0, "100": 90 / 6 - 45, "5": 27.0}
    for label, angle in expected.items():
        (text,) = [one for one in found.texts if one.text == label]
        assert turn(pivot, text.middle) == pytest.approx(angle, abs=EXACT)


def test_a_suppressed_zero_follows_the_movement_from_its_first_figure() -> None:
    """The square of what is fed, by hand: at 7 of 5 to 10 it has gone (49 - 25) / (100 - 25)."""
    arc = PlateArc("linear", 5.0, 10.0, "V", "left", ("BATTERY 5–10 V",), ("battery",))
    found = read(dial_plate(DIAL, [arc], lambda share: (share * share - 0.25) / 1.5 + 0.5))
    for label, share in {"5": 0.0, "7": 0.32, "10": 1.0}.items():
        (text,) = [one for one in found.texts if one.text == label]
        assert turn(PIVOT, text.middle) == pytest.approx(90 * share - 45, abs=EXACT)


def test_an_arc_follows_the_movement() -> None:
    """A pointer that goes with the square of what is fed, as an iron's does."""
    found = read(dial_plate(DIAL, [linear(10.0)], lambda share: share * share))
    for label, share in {"4": 0.16, "6": 0.36, "10": 1.0}.items():
        (text,) = [one for one in found.texts if one.text == label]
        assert turn(PIVOT, text.middle) == pytest.approx(90 * share - 45, abs=EXACT)


def pivot_in(found: Read) -> XY:
    """Where the small cross is."""
    level = [(a, b) for a, b in found.strokes if a[1] == b[1] and abs(abs(a[0] - b[0]) - 3) < 0.02]
    ((a, b),) = level
    return (a[0] + b[0]) / 2, a[1]


# On any plate -------------------------------------------------------------------------------

FULL = st.sampled_from(
    [
        1.0,
        1.5,
        2.0,
        2.5,
        3.0,
        4.0,
        5.0,
        7.5,
        10.0,
        12.0,
        15.0,
        25.0,
        30.0,
        40.0,
        50.0,
        60.0,
        75.0,
        100.0,
        120.0,
        150.0,
        250.0,
        300.0,
        500.0,
        750.0,
        1.735,
    ]
)
KINDS = st.one_of(
    st.builds(linear, FULL, st.sampled_from(["left", "centre", "right"])),
    st.builds(lambda low, high: PlateArc("dB", low, high, "dB", "left", ("L dB",), ("l",)),
              st.sampled_from([-20.0, -40.0, -15.0]), st.sampled_from([0.0, 2.0, 3.0, 6.0])),
    st.builds(lambda half: PlateArc("ohm", inf, half, "Ω", "left", ("OHMS",), ("o",)),
              st.floats(5.0, 50000.0)),
)  # fmt: skip


@settings(max_examples=40, deadline=None)
@given(
    st.floats(25.0, 90.0), st.floats(50.0, 270.0), st.lists(KINDS, min_size=1, max_size=4),
    st.sampled_from(["rectangle", "circle", "sector"]), st.floats(0.75, 1.35),
)  # fmt: skip
def test_on_any_plate_figures_stand_clear_of_marks_and_of_each_other(
    radius: float, sweep: float, arcs: list[PlateArc], outline: str, bend: float
) -> None:
    dial = Dial(radius=radius, sweep=sweep, outline=outline)  # type: ignore[arg-type]
    try:
        panel = dial_plate(dial, arcs, lambda share: abs(share) ** bend * (1 if share > 0 else -1))
    except DialRefused:
        assume(False)
    found = read(panel)
    pivot = pivot_in(found)
    assert len(found.texts) >= 2
    for text, other in combinations(found.texts, 2):
        apart = (text.left >= other.right or other.left >= text.right
                 or text.top >= other.bottom or other.top >= text.bottom)  # fmt: skip
        assert apart, (text, other)
    for text in found.texts:
        for a, b in found.strokes:
            steps = [(a[0] + (b[0] - a[0]) * n / 8, a[1] + (b[1] - a[1]) * n / 8) for n in range(9)]
            assert min(map(text.away, steps)) > 0.2 or pivot in steps, (text, a, b)
        for course in found.courses:
            assert min(map(text.away, course)) > 0.2
        assert 0 < text.left < text.right < panel.width
        assert 0 < text.top < text.bottom < panel.height
    for at_line, at_tip, _ in marks(found, pivot):
        assert abs(at_line - at_tip) < EXACT + degrees(2 * ROUNDED / (0.4 * radius))


# Edges --------------------------------------------------------------------------------------


def test_a_plate_is_cut_at_its_size_and_folded_at_its_sides() -> None:
    dial = Dial(radius=30.0, plate=(70.0, 50.0), pivot=(35.0, 8.0), flaps=6.0)
    found = read(dial_plate(dial, [linear(10.0)], straight))
    edge = next(one for one in found.courses if len(one) == 5)
    assert (max(x for x, _ in edge) - min(x for x, _ in edge)) == pytest.approx(70.0)
    assert (max(y for _, y in edge) - min(y for _, y in edge)) == pytest.approx(50.0)
    folds = [s for s in found.strokes if s[0][0] == s[1][0] and abs(s[0][1] - s[1][1]) == 50.0]
    assert sorted(s[0][0] for s in folds) == [6.0, 76.0]


def test_screw_holes_have_their_size_and_place() -> None:
    dial = Dial(
        radius=30.0, plate=(70.0, 50.0), pivot=(35.0, 8.0), screws=((5.0, 4.0),), screw_hole=2.5
    )
    ring = next(
        one for one in read(dial_plate(dial, [linear(10.0)], straight)).courses if len(one) == 37
    )
    assert {round(hypot(x - 5.0, y - 46.0), 1) for x, y in ring} in ({1.2, 1.3}, {1.2}, {1.3})


def test_a_film_is_mirrored_and_a_dark_plate_is_white_on_black() -> None:
    plain, dark = (dial_plate(DIAL, [linear(10.0)], straight, how) for how in (False, True))
    turned = read(face_down(plain))
    (ten,) = [one for one in turned.texts if one.text == "10"]
    assert turn((80.0 - PIVOT[0], PIVOT[1]), ten.middle) == pytest.approx(-45.0, abs=EXACT)
    assert all("matrix(-1 0 0 1" in one.more for one in turned.texts)
    assert read(plain).colours == {"none", "#000000"}
    assert read(dark).colours == {"none", "#000000", "#ffffff"}
    assert all('fill="#ffffff"' in one.more for one in read(dark).texts)


def test_a_red_line_stands_at_its_figure() -> None:
    arc = linear(250.0, marks=((230.0, "red line"),))
    panel = dial_plate(DIAL, [arc], straight)
    (line,) = [one for one in panel.items if getattr(one, "colour", None)]
    a, b = line.points
    assert turn(PIVOT, a) == pytest.approx(90 * 0.92 - 45, abs=EXACT)
    assert hypot(a[0] - b[0], a[1] - b[1]) > 2.0


@pytest.mark.parametrize(
    ("dial", "said"),
    [
        (Dial(radius=38.0, pivot=(32.0, 50.0), plate=(64.0, 58.0)), "measured from the lower left"),
        (Dial(radius=38.0, outline="circle", plate=(90.0, 80.0)), "plate: .90 mm, 90 mm"),
        (Dial(radius=38.0, outline="circle", flaps=5.0), "take flaps out"),
        (Dial(radius=8.0), "12 mm or more"),
        (Dial(radius=38.0, outline="sector", pivot=(90.0, 0.0), plate=(80.0, 60.0)), "lower left"),
        (Dial(radius=20.0, sweep=3.0), "larger radius or sweep"),
    ],
)
def test_what_does_not_go_on_the_plate_is_refused(dial: Dial, said: str) -> None:
    with pytest.raises(DialRefused) as caught:
        dial_plate(dial, [linear(10.0)], straight)
    assert re.search(said, caught.value.hint)


def test_the_angle_of_an_arc_is_the_sweep() -> None:
    found = read(dial_plate(DIAL, [linear(10.0)], straight))
    arc = next(one for one in found.courses if len(one) == 91)
    assert turn(PIVOT, arc[0]) == pytest.approx(-45.0, abs=EXACT)
    assert turn(PIVOT, arc[-1]) == pytest.approx(45.0, abs=EXACT)
    expected = [(PIVOT[0] + 38 * sin(radians(n - 45)), PIVOT[1] - 38 * cos(radians(n - 45)))
                for n in range(91)]  # fmt: skip
    assert [
        hypot(x - u, y - v) < 2 * ROUNDED for (x, y), (u, v) in zip(arc, expected, strict=True)
    ] == [True] * 91
