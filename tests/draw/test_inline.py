"""Pictures inside a page: the SVG says what the scene says, and nothing of a spec is markup."""

from __future__ import annotations

import random
import re
import xml.etree.ElementTree as ET
from dataclasses import replace

import pytest

from rewire.draw.paint import ContactBar, Names, svg_of
from rewire.draw.scene import Box, Line, ScanImage, Scene, Symbol, text_at, wrap

SVG = "{http://www.w3.org/2000/svg}"
HOSTILE = ('"><script>x</script>', "' onload='x", "a & b < c", "]]>", "‮ R1", "é Ω µ")
# The one-pixel PNG of the PNG specification's minimum: signature, IHDR, IDAT, IEND.
PIXEL = bytes.fromhex(
    "89504e470d0a1a0a0000000d49484452000000010000000108000000003a7e9b55"
    "0000000a49444154789c6360000000020001e221bc330000000049454e44ae426082"
)


def plain(name: str = "") -> Names:
    return Names(lambda shows: shows if shows == name else "", lambda shows: f"this is {shows}")


def random_scene(rng: random.Random, title: str) -> Scene:
    def place() -> tuple[float, float]:
        return rng.uniform(0, 180), rng.uniform(0, 200)

    items = []
    for number in range(rng.randint(5, 30)):
        (x, y), (u, v) = place(), place()
        kind = rng.choice(["line", "text", "round", "square", "chamfered", "disc", "resistor"])
        if kind == "line":
            dash = rng.choice(["solid", "dashed", "dotted", "dashdot"])
            items.append(Line(((x, y), (u, v), place()), f"wire:W{number}", "net 1", dash=dash))
        elif kind == "text":
            items.append(text_at(rng.choice(HOSTILE), x, y, rng.uniform(7, 12), shows="words"))
        else:
            box = Box(x, y, x + 6, y + 4)
            items.append(Symbol(kind, box, f"lug:{number}", "net 2", backdrop=kind == "disc"))
    return Scene(190.0, 220.0, tuple(items), title)


@pytest.mark.parametrize("seed", range(8))
def test_every_item_of_a_random_panel_is_drawn_where_it_stands(seed: int) -> None:
    panel = random_scene(random.Random(seed), 'a "title" & more')
    root = ET.fromstring(svg_of(panel))
    assert root.get("aria-label") == 'a "title" & more'
    assert root.get("viewBox") == "0 0 190 220"
    assert (root.get("width"), root.get("height")) == ("190mm", "220mm")
    texts = [item for item in panel.items if not isinstance(item, Line | Symbol)]
    drawn = root.findall(f".//{SVG}text")
    assert sorted(e.text or "" for e in drawn) == sorted(t.text for t in texts)
    for element in drawn:
        told = [float(element.get(k, "")) for k in ("x", "y", "textLength", "font-size")]
        close = [
            t for t in texts
            if told == pytest.approx([t.x, t.y, t.width, t.points * 25.4 / 72], abs=0.006)
        ]  # fmt: skip
        assert element.text in {t.text for t in close}
    corners = {
        tuple(float(n) for n in re.findall(r"-?[\d.]+", e.get("d", "")))
        for e in root.findall(f".//{SVG}path")
    }
    for line in (item for item in panel.items if isinstance(item, Line)):
        flat = [n for point in line.points for n in point]
        assert any(c == pytest.approx(flat, abs=0.006) for c in corners if len(c) == len(flat))


@pytest.mark.parametrize("text", HOSTILE)
def test_what_a_spec_says_stays_text(text: str) -> None:
    items = (Line(((0, 0), (9, 9)), text, text), text_at(text, 1, 5, 8, shows=text))
    bars = [ContactBar(((0, 0), (1, 1)), {"data-a": text})]
    root = ET.fromstring(svg_of(Scene(20, 20, items, text), replace(plain(text), bars=bars)))
    assert {e.tag for e in root.iter()} <= {f"{SVG}{t}" for t in ("svg", "g", "path", "text")}
    group = root.find(f"./{SVG}g[@role='button']")
    assert group is not None
    assert group.get("data-name") == text
    assert group.get("aria-label") == f"this is {text}"
    assert [e.text for e in root.iter(f"{SVG}text")] == [text]
    bar = root.find(f"./{SVG}g[@class='bar']")
    assert bar is not None
    assert bar.get("data-a") == text
    handlers = [k for e in root.iter() for k in e.attrib if k.startswith("on") or k == "style"]
    assert handlers == []


def test_only_what_has_words_of_its_own_is_reached_by_the_keyboard() -> None:
    symbol = Symbol("round", Box(0, 0, 5, 4), "lug:A")
    scene = Scene(20, 20, (symbol, text_at("A", 1, 3, 8, shows="lug:A", on="lug:A")), "t")
    spoken = ET.fromstring(svg_of(scene, Names(lambda _: "t:A", lambda _: "lug A")))
    mute = ET.fromstring(svg_of(scene, Names(lambda _: "t:A", lambda _: "")))
    assert len(spoken.findall(f"./{SVG}g[@tabindex]")) == 1
    assert mute.findall(".//*[@tabindex]") == []
    assert len(mute.findall(f"./{SVG}g[@data-name='t:A']")) == 1


def test_a_scan_lies_in_the_page_itself() -> None:
    scene = Scene(20, 30, (ScanImage(Box(1, 2, 11, 22), PIXEL, "image/png", "scan"),), "t")
    image = ET.fromstring(svg_of(scene)).find(f"./{SVG}image")
    assert image is not None
    assert image.get("href", "").startswith("data:image/png;base64,")
    assert [image.get(k) for k in ("x", "y", "width", "height")] == ["1", "2", "10", "20"]


def test_a_number_and_its_unit_stay_on_one_line() -> None:
    """Common practice of typesetting, no source."""
    said = "0.498 Ω, 0.0999 Ω, 4 MΩ and 10 kΩ, 250 V at most (1 mA)"
    for width in range(20, 60):
        lines = wrap(said, float(width), 8.0)
        assert " ".join(lines) == said
        assert not any(line[-1].isdigit() for line in lines)
