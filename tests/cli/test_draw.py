"""`rewire draw` from outside: the files it writes, and what it refuses."""

from __future__ import annotations

import json
import re
from collections import Counter
from pathlib import Path
from xml.etree import ElementTree

import pypdf
import pytest
from click.testing import CliRunner, Result
from PIL import Image

from rewire.cli import rewire
from rewire.cli.files import is_ours
from rewire.reading import read_spec
from rewire.report.pictures import Wish, on_sheets, pictures
from tests.draw.audit import audit

SPECS = Path(__file__).parents[2] / "specs"
FLAGSHIP = SPECS / "valve-amplifier.yaml"
RELAY = SPECS / "relay-and-switch.yaml"
JACK = SPECS / "monitor-jack.yaml"


def draw(*args: str | Path) -> Result:
    return CliRunner().invoke(rewire, ["draw", *map(str, args)])


def pdf_text(place: Path) -> str:
    return "\n".join(page.extract_text() for page in pypdf.PdfReader(place).pages)


def svg_text(place: Path) -> str:
    return " ".join(ElementTree.parse(place).getroot().itertext())


def test_one_pdf_holds_every_switch_of_every_wiring(tmp_path: Path) -> None:
    done = draw(RELAY, "--view", "lugs", "-o", tmp_path)
    assert done.exit_code == 0, done.output
    (place,) = tmp_path.iterdir()
    assert place.name == "relay-and-switch-lugs.pdf"
    assert is_ours(place)
    text = pdf_text(place)
    for title in ("K1: original", "S1: original", "K1: as-found", "K2: substitute"):
        assert title in text


def test_svg_and_png_hold_one_picture_each_and_the_wiring_and_switch_asked_for(
    tmp_path: Path,
) -> None:
    done = draw(
        RELAY, "--view", "lugs", "--format", "svg,png", "-o", tmp_path,
        "--wiring", "substitute", "--switch", "S1",
    )  # fmt: skip
    assert done.exit_code == 0, done.output
    assert {p.name for p in tmp_path.iterdir()} == {
        "relay-and-switch-lugs-substitute-S1.svg", "relay-and-switch-lugs-substitute-S1.png",
    }  # fmt: skip
    assert "S1: substitute" in svg_text(tmp_path / "relay-and-switch-lugs-substitute-S1.svg")
    with Image.open(tmp_path / "relay-and-switch-lugs-substitute-S1.png") as picture:
        assert picture.convert("L").getextrema() == (0, 255)
    assert all(is_ours(place) for place in tmp_path.iterdir())


def test_one_picture_goes_into_the_file_named_in_the_format_of_its_ending(tmp_path: Path) -> None:
    for ending, start in (("svg", b"<?xml"), ("png", b"\x89PNG"), ("pdf", b"%PDF")):
        place = tmp_path / f"wall.{ending}"
        done = draw(FLAGSHIP, "--view", "lugs", "--wiring", "substitute", "-o", place)
        assert done.exit_code == 0, done.output
        assert place.read_bytes().startswith(start)


def test_from_the_front_is_said_and_is_another_picture(tmp_path: Path) -> None:
    said = {}
    for side in ("behind", "front"):
        place = tmp_path / f"{side}.svg"
        options = ("--view", "lugs", "--wiring", "substitute", "--from", side)
        assert draw(FLAGSHIP, *options, "-o", place).exit_code == 0
        said[side] = svg_text(place)
    assert "Seen from behind" in said["behind"]
    assert "Seen from the front" in said["front"]


def test_json_lists_exactly_the_files_written(tmp_path: Path) -> None:
    done = draw(JACK, FLAGSHIP, "--view", "lugs", "--format", "pdf,svg", "-o", tmp_path, "--json")
    assert done.exit_code == 0, done.output
    documents = json.loads(done.stdout)
    assert [d["spec"] for d in documents] == [str(JACK), str(FLAGSHIP)]
    assert {d["command"] for d in documents} == {"draw"}
    files = [r for d in documents for r in d["results"]]
    assert {Path(r["output"]) for r in files} == set(tmp_path.iterdir())
    for one in files:
        assert one["views"] == ["lugs"]
        pages = len(pypdf.PdfReader(one["output"]).pages) if one["format"] == "pdf" else 1
        assert len(one["sheets"]) == pages


@pytest.mark.parametrize(
    ("options", "nearest"),
    [
        (("--view", "lgs"), "lugs"),
        (("--format", "pfd"), "pdf"),
        (("--wiring", "substitut"), "substitute"),
        (("--switch", "S33"), "S3"),
        (("--reading", "cathod"), "cathode"),
    ],
)
def test_a_name_mistyped_gets_the_nearest_and_writes_nothing(
    tmp_path: Path, options: tuple[str, ...], nearest: str
) -> None:
    done = draw(FLAGSHIP, *options, "-o", tmp_path)
    assert done.exit_code == 2
    assert re.search(rf"(nearest is|Did you mean) '?{nearest}\b", done.stderr)
    assert list(tmp_path.iterdir()) == []


def test_several_sheets_into_one_svg_are_refused_before_anything_is_written(
    tmp_path: Path,
) -> None:
    place = tmp_path / "all.svg"
    done = draw(RELAY, "--view", "lugs", "-o", place)
    assert done.exit_code == 2
    assert "6 sheets" in done.stderr
    assert list(tmp_path.iterdir()) == []


def test_a_file_that_is_not_ours_stays_and_nothing_else_is_written_either(tmp_path: Path) -> None:
    taken = tmp_path / "monitor-jack-lugs-substitute-JK2.svg"
    taken.write_text("my own drawing")
    options = (JACK, "--view", "lugs", "--format", "svg", "-o", tmp_path)
    done = draw(*options)
    assert done.exit_code == 2
    assert "--force" in done.stderr
    assert [p.name for p in tmp_path.iterdir()] == [taken.name]
    assert taken.read_text() == "my own drawing"
    assert draw(*options, "--force").exit_code == 0
    assert is_ours(taken)


def test_names_of_wirings_are_data_and_never_a_path(tmp_path: Path) -> None:
    folder = tmp_path / "out"
    folder.mkdir()
    text = JACK.read_text("utf-8")
    text = text.replace("  as-found:\n", '  "../../as found/":\n')
    text = text.replace("  substitute:\n", '  "../../AS_found?":\n')
    spec = tmp_path / "odd.yaml"
    spec.write_text(text, "utf-8")
    done = draw(spec, "--view", "lugs", "--format", "svg", "-o", folder)
    assert done.exit_code == 0, done.output
    assert len(list(folder.iterdir())) == 3
    assert {p.name for p in tmp_path.iterdir()} == {"odd.yaml", "out"}
    assert all(set(p.stem) <= set("abcdefghijklmnopqrstuvwxyzABCDEFGHIJKLMNOPQRSTUVWXYZ"
                                  "0123456789_-") for p in folder.iterdir())  # fmt: skip


@pytest.mark.parametrize(
    ("place", "said"),
    [("nowhere/x.pdf", "mkdir -p"), ("picture", "folder that exists"), ("x.bmp", ".svg")],
)
def test_a_bad_place_is_reported_with_a_way_out(tmp_path: Path, place: str, said: str) -> None:
    done = draw(FLAGSHIP, "-o", tmp_path / place)
    assert done.exit_code == 2
    assert said in done.stderr
    assert list(tmp_path.iterdir()) == []


def test_a_file_without_an_ending_is_refused_where_the_format_is_told_too(tmp_path: Path) -> None:
    """Nothing opens a picture called 'out': a folder was meant."""
    done = draw(FLAGSHIP, "--format", "png", "-o", tmp_path / "out")
    assert done.exit_code == 2
    assert "folder that exists" in done.stderr
    assert list(tmp_path.iterdir()) == []


def test_a_layout_that_cannot_be_drawn_is_bad_input_with_its_place(tmp_path: Path) -> None:
    spec = tmp_path / "odd.yaml"
    text = FLAGSHIP.read_text("utf-8").replace("layout: {decks: 3}", "layout: {deks: 3}")
    spec.write_text(text, "utf-8")
    done = draw(spec, "-o", tmp_path)
    assert done.exit_code == 2
    assert "unknown key 'deks'; nearest is 'decks'" in done.stderr
    assert "odd.yaml:" in done.stderr
    assert [p.name for p in tmp_path.iterdir()] == ["odd.yaml"]


def test_two_specs_of_one_name_are_refused(tmp_path: Path) -> None:
    (tmp_path / "a").mkdir()
    twin = tmp_path / "a" / FLAGSHIP.name
    twin.write_bytes(FLAGSHIP.read_bytes())
    done = draw(FLAGSHIP, twin, "-o", tmp_path)
    assert done.exit_code == 2
    assert "one by one" in done.stderr


def test_what_was_chosen_stands_in_the_names_and_no_other_picture_is_lost(tmp_path: Path) -> None:
    choices = (
        [], ["--wiring", "substitute"], ["--wiring", "original"], ["--from", "front"],
        ["--wiring", "substitute", "--from", "front"], ["--switch", "S4"],
    )  # fmt: skip
    for format_ in ("pdf", "svg"):
        seen: dict[str, bytes] = {}
        for choice in choices:
            words = [FLAGSHIP, "--view", "lugs", "--format", format_, "-o", tmp_path, "--json"]
            done = draw(*words, *choice)
            assert done.exit_code == 0, done.output
            for made in json.loads(done.stdout)["results"]:
                data = Path(made["output"]).read_bytes()
                assert seen.setdefault(Path(made["output"]).name, data) == data, made
        behind = [name for name in seen if "front" not in name]
        assert len(seen) == (len(choices) if format_ == "pdf" else 2 * len(behind))
        assert len(behind) > 2


def test_by_default_the_card_of_each_plan_is_drawn(tmp_path: Path) -> None:
    done = draw(FLAGSHIP, "-o", tmp_path, "--json")
    assert done.exit_code == 0, done.output
    (made,) = json.loads(done.stdout)["results"]
    assert Path(made["output"]).name == "valve-amplifier-card.pdf"
    assert made["views"] == ["card"]
    text = " ".join(pdf_text(Path(made["output"])).split())
    for word in ("CHANGED, AS MEANT", "BIAS_RETURN", "Unplug all, wait, discharge", "revision B"):
        assert word in text
    assert len(pypdf.PdfReader(made["output"]).pages) == 1


def test_all_views_that_the_spec_has_are_in_one_pdf(tmp_path: Path) -> None:
    done = draw(FLAGSHIP, "--view", "all", "-o", tmp_path, "--json")
    assert done.exit_code == 0, done.output
    (made,) = json.loads(done.stdout)["results"]
    assert Path(made["output"]).name == "valve-amplifier-pictures.pdf"
    assert {"card", "lugs", "side", "circuit", "marked"} <= set(made["views"])
    text = pdf_text(Path(made["output"]))
    for word in ("S4: substitute", "side by side", "cathode", "BIAS_RETURN"):
        assert word in text
    pages = len(pypdf.PdfReader(made["output"]).pages) - 1  # the card counts its own
    assert f"page {pages} of {pages}" in text


def test_a_reading_is_drawn_alone(tmp_path: Path) -> None:
    options = ("--view", "circuit", "--reading", "screen", "--wiring", "substitute")
    done = draw(FLAGSHIP, *options, "-o", tmp_path / "one.svg")
    assert done.exit_code == 0, done.output
    assert "R34A" in svg_text(tmp_path / "one.svg")


def test_a_limit_leaves_one_view_out_and_says_so(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr("rewire.draw.circuit.MOST_BRANCHES", 1)
    options = ("--view", "lugs,circuit", "--wiring", "substitute", "--json", "-o", tmp_path)
    done = draw(FLAGSHIP, *options)
    assert done.exit_code == 3
    document = json.loads(done.stdout)
    assert [r["views"] for r in document["results"]] == [["lugs"]]
    assert "more than the 1" in document["limit"]
    assert "left out" in done.stderr


def test_circuits_share_sheets_of_a_pdf_and_none_is_lost(tmp_path: Path) -> None:
    """As SVG each has a file of its own: what is on those is on the sheets, once."""
    spec = read_spec(FLAGSHIP)
    made = pictures(Wish(spec), ("circuit",)).pictures
    sheets = [scene for scene, _ in on_sheets(made, "a4")]
    alone = [scene for picture in made for scene in picture.scenes]
    assert len(sheets) < len(alone)
    assert [tone for scene in sheets for tone in audit(scene)] == []
    words = Counter(text.text for scene in sheets for text in scene.texts)
    assert words == Counter(text.text for scene in alone for text in scene.texts)
    done = draw(FLAGSHIP, "--view", "circuit", "-o", tmp_path, "--json")
    (document,) = json.loads(done.stdout)["results"]
    assert len(pypdf.PdfReader(document["output"]).pages) == len(sheets) == len(document["sheets"])


def test_the_circuit_of_a_card_has_american_symbols_where_asked(tmp_path: Path) -> None:
    place = tmp_path / "card.svg"
    done = draw(FLAGSHIP, "--symbols", "us", "-o", place)
    assert done.exit_code == 0, done.output
    assert 'data-kind="resistor-us"' in place.read_text()
    assert draw(FLAGSHIP, "--symbols", "xx").exit_code == 2
