"""Draws the scanned page of the valve amplifier: a sheet from an invented service folder.

Run it to write ``specs/scans/valve-amplifier-meter.png`` anew. Everything on it is made up
here: pen strokes with a shaking hand, letters of straight strokes, grey paper with a fold.
"""

from __future__ import annotations

import io
import math
import random
from collections.abc import Sequence
from itertools import pairwise
from pathlib import Path

from PIL import Image, ImageDraw, ImageFilter

PLACE = Path(__file__).parent.parent / "specs" / "scans" / "valve-amplifier-meter.png"
SIZE = (1480, 1040)
XY = tuple[float, float]

# Letters on a grid 4 wide and 6 high: strokes, points as two digits x y, y down.
LETTERS = {
    "A": "06 20 46|13 33", "B": "00 06 36 45 44 33 03|00 30 41 42 33", "C": "40 10 01 05 16 46",
    "D": "00 06 26 45 41 20 00", "E": "40 00 06 46|03 33", "F": "40 00 06|03 33",
    "G": "40 10 01 05 16 46 43 23", "H": "00 06|40 46|03 43", "I": "20 26", "K": "00 06|40 03 46",
    "L": "00 06 46", "M": "06 00 23 40 46", "N": "06 00 46 40", "O": "10 01 05 16 36 45 41 30 10",
    "P": "06 00 30 41 42 33 03", "R": "06 00 30 41 42 33 03|23 46",
    "S": "41 30 10 01 12 33 44 35 16 05", "T": "00 40|20 26", "U": "00 05 16 36 45 40",
    "V": "00 26 40", "W": "00 16 22 36 40", "Y": "00 23 40|23 26",
    "0": "10 01 05 16 36 45 41 30 10", "1": "11 20 26", "2": "01 10 30 41 42 06 46",
    "3": "00 40 23 34 45 36 06", "4": "30 04 44|30 36", "5": "40 00 02 32 44 35 26 06",
    "6": "30 10 02 05 16 36 45 44 33 03", "7": "00 40 16",
    "8": "10 01 12 32 43 45 36 16 05 03 12|32 41 30 10", "9": "43 13 02 01 10 30 41 43 35 16",
    "-": "13 33", "+": "13 33|22 24", ".": "15 16", "/": "06 40", ",": "25 17", "_": "06 46",
    "k": "00 06|32 04 36", "m": "06 02|03 12 22 23 26|23 32 42 46", " ": "",
    "Ω": "06 16 14 02 10 30 42 34 36 46",
}  # fmt: skip


class Pen:
    """A pen in a hand that shakes a little, always in the same way."""

    def __init__(self) -> None:
        self.sheet = Image.new("L", SIZE, 236)
        self.ink = ImageDraw.Draw(self.sheet)
        self.rng = random.Random(1958)

    def stroke(self, points: Sequence[XY], width: int = 3) -> None:
        for (x0, y0), (x1, y1) in pairwise(points):
            steps = max(2, int(math.dist((x0, y0), (x1, y1)) / 14))
            bow = self.rng.uniform(-1.6, 1.6)
            line = []
            for n in range(steps + 1):
                t = n / steps
                sag = bow * math.sin(math.pi * t)
                line.append((
                    x0 + (x1 - x0) * t + sag + self.rng.uniform(-0.6, 0.6),
                    y0 + (y1 - y0) * t + sag + self.rng.uniform(-0.6, 0.6),
                ))  # fmt: skip
            self.ink.line(line, fill=self.rng.randint(30, 60), width=width, joint="curve")

    def letters(self, text: str, x: float, y: float, size: float = 26) -> None:
        grid = size / 6
        for letter in text:
            tilt = self.rng.uniform(-0.05, 0.12)
            lift = self.rng.uniform(-1.5, 1.5)
            for stroke in LETTERS[letter].split("|"):
                spots = [(int(p[0]), int(p[1])) for p in stroke.split()]
                if len(spots) > 1:
                    self.stroke([
                        (x + grid * (a + tilt * (6 - b)), y + lift + grid * b) for a, b in spots
                    ], 2)  # fmt: skip
            x += grid * (6 if letter != " " else 4)

    def circle(self, x: float, y: float, radius: float, width: int = 3) -> None:
        turns = [2 * math.pi * n / 16 + 0.3 for n in range(18)]
        self.stroke([(x + radius * math.cos(t), y + radius * math.sin(t)) for t in turns], width)

    def dot(self, x: float, y: float) -> None:
        self.ink.ellipse((x - 6, y - 6, x + 6, y + 6), fill=40)

    def resistor(self, x: float, y: float, lying: bool = True) -> None:
        """Zigzag, 90 long, its first end at x, y."""
        zig = [0, 0, -12, 12, -12, 12, -12, 0, 0]
        at = [0, 12, 20, 31, 42, 53, 64, 72, 90]
        line = [(x + a, y + z) if lying else (x + z, y + a) for a, z in zip(at, zig, strict=True)]
        self.stroke(line)

    def earth(self, x: float, y: float) -> None:
        for n, half in enumerate((20, 13, 6)):
            self.stroke([(x - half, y + 9 * n), (x + half, y + 9 * n)])


def deck(pen: Pen, name: str, x: float, y: float) -> None:
    """A wafer of the switch: common at the left, three contacts at the right."""
    pen.circle(x, y, 6)
    pen.letters(name, x - 66, y - 40)
    for n in range(3):
        spot = (x + 105, y - 42 + 42 * n)
        pen.circle(*spot, 6)
        pen.letters(str(n + 1), spot[0] + 12, spot[1] - 26, 17)
    pen.stroke([(x + 6, y - 2), (x + 96, y - 40)], 4)


def sketch() -> Image.Image:
    """The whole sheet."""
    pen = Pen()
    pen.letters("METER CIRCUIT  SHEET 12", 90, 60, 34)
    pen.stroke([(86, 108), (690, 112)], 4)
    for name, y in (("S3A", 330), ("S3B", 560), ("S3C", 800)):
        deck(pen, name, 470, y)
    # the meter, between the commons of A and B
    pen.circle(250, 445, 52, 4)
    pen.letters("M1", 224, 424, 30)
    pen.letters("1 mA", 104, 470, 24)
    pen.letters("+", 262, 362)
    pen.letters("-", 262, 506)
    pen.stroke([(250, 393), (250, 330), (464, 330)])
    pen.stroke([(250, 497), (250, 560), (464, 560)])
    # deck A: bias shunt, chassis, screen tap
    pen.stroke([(581, 288), (700, 288), (700, 758)])
    pen.stroke([(581, 330), (660, 330), (660, 420)])
    pen.earth(660, 420)
    pen.stroke([(581, 372), (620, 372), (620, 240), (980, 240)])
    pen.dot(980, 240)
    # the divider of the screen range
    pen.letters("SCREENS 420V", 1120, 150)
    pen.stroke([(1100, 160), (980, 160), (980, 100)])
    pen.stroke([(980, 100), (840, 100), (840, 150)])
    pen.resistor(840, 150, lying=False)
    pen.letters("R34A,B", 640, 168)
    pen.letters("440kΩ", 866, 186)
    pen.stroke([(840, 240), (840, 240)])
    pen.stroke([(980, 240), (980, 270)])
    pen.resistor(980, 270, lying=False)
    pen.letters("R35 440Ω", 1010, 300)
    pen.stroke([(980, 360), (980, 390)])
    pen.earth(980, 390)
    # deck B: chassis, cathode multiplier
    pen.stroke([(581, 518), (640, 518), (640, 602), (581, 602)])
    pen.dot(640, 602)
    pen.stroke([(640, 602), (640, 636)])
    pen.earth(640, 636)
    pen.stroke([(581, 560), (610, 560), (610, 548), (760, 548)])
    pen.resistor(760, 548)
    pen.letters("R32 189Ω", 750, 484)
    pen.stroke([(850, 548), (1120, 548)])
    pen.dot(1120, 548)
    pen.letters("HT_MINUS", 1146, 534)
    pen.stroke([(1120, 548), (1120, 600)])
    pen.resistor(1120, 600, lying=False)
    pen.letters("R31 1Ω", 1146, 630)
    pen.stroke([(1120, 690), (1120, 716)])
    pen.earth(1120, 716)
    # deck C: the bias return
    pen.stroke([(581, 758), (790, 758)])
    pen.dot(700, 758)
    pen.resistor(790, 758)
    pen.letters("R36 15Ω", 786, 694)
    pen.stroke([(880, 758), (940, 758), (940, 800)])
    pen.earth(940, 800)
    pen.stroke([(581, 800), (640, 800), (640, 842), (581, 842)])
    pen.dot(640, 842)
    pen.stroke([(640, 842), (640, 880)])
    pen.earth(640, 880)
    pen.stroke([(464, 800), (160, 800)])
    pen.circle(152, 800, 8)
    pen.letters("BIAS_RETURN", 100, 836)
    pen.letters("1 BIAS   2 CATHODE   3 SCREEN", 770, 930, 24)
    return aged(pen.sheet)


def aged(sheet: Image.Image) -> Image.Image:
    """Slightly turned, soft, with a fold and a thumb's shadow; sixteen greys."""
    rng = random.Random(3)
    ink = ImageDraw.Draw(sheet)
    ink.line([(0, 523), (SIZE[0], 517)], fill=222, width=3)
    ink.line([(0, 526), (SIZE[0], 520)], fill=244, width=2)
    for _ in range(60):
        x, y = rng.uniform(0, SIZE[0]), rng.uniform(0, SIZE[1])
        ink.ellipse(
            (x, y, x + rng.uniform(1, 3), y + rng.uniform(1, 3)), fill=rng.randint(180, 215)
        )
    turned = sheet.rotate(0.6, Image.Resampling.BICUBIC, fillcolor=228)
    soft = turned.filter(ImageFilter.GaussianBlur(0.7))
    return soft.point(lambda level: round(level / 17) * 17).quantize(16)


def png(image: Image.Image) -> bytes:
    """The bytes of the file."""
    out = io.BytesIO()
    image.save(out, "PNG", optimize=True)
    return out.getvalue()


if __name__ == "__main__":
    PLACE.parent.mkdir(parents=True, exist_ok=True)
    PLACE.write_bytes(png(sketch()))
