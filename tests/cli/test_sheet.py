"""`rewire sheet` from outside: the file it writes, and what it refuses to write over."""

from __future__ import annotations

import json
from pathlib import Path

import pypdf
import pytest
from click.testing import CliRunner, Result

from rewire.cli import rewire
from rewire.cli.files import is_ours
from rewire.draw.paint import paint_pdf
from rewire.draw.scene import Scene, sheet_of
from rewire.report import contents

SPECS = Path(__file__).parents[2] / "specs"
FLAGSHIP = str(SPECS / "valve-amplifier.yaml")
LOG = SPECS.parent / "docs" / "examples" / "bench-log.yaml"
JACK = str(SPECS / "monitor-jack.yaml")

# ANSI/ASME Y14.1: Letter is 8.5 in by 11 in.
INCH = 72.0
LETTER = (8.5 * INCH, 11 * INCH)
SHORT = ("--sections", "verdict")
"""All that is asked where it does not matter what stands on the paper."""


def sheet(*args: str) -> Result:
    return CliRunner().invoke(rewire, ["sheet", *args])


def test_the_sheet_is_a_pdf_of_the_size_asked_with_the_verdicts_on_it(tmp_path: Path) -> None:
    """A4, which is not asked, is measured in tests/sheet."""
    place = tmp_path / "sheet.pdf"
    done = sheet(FLAGSHIP, "--output", str(place), "--paper", "letter")
    assert done.exit_code == 0, done.output
    pages = pypdf.PdfReader(place).pages
    for page in pages[1:]:  # the card, before them, may need larger paper
        assert (float(page.mediabox.width), float(page.mediabox.height)) == pytest.approx(
            LETTER, abs=0.1
        )
    text = " ".join(page.extract_text() for page in pages).casefold()
    for word in ("what was wrong: as-found", "substitute", "changed", "bias_return"):
        assert word in text


def test_our_own_sheet_is_replaced_and_the_same_spec_gives_the_same_bytes(tmp_path: Path) -> None:
    place = tmp_path / "sheet.pdf"
    assert sheet(JACK, "-o", str(place), *SHORT).exit_code == 0
    first = place.read_bytes()
    assert is_ours(place)
    assert sheet(JACK, "-o", str(place), *SHORT).exit_code == 0
    assert place.read_bytes() == first


def test_a_sheet_of_many_pages_is_known_as_ours_too(tmp_path: Path) -> None:
    place = tmp_path / "long.pdf"
    place.write_bytes(paint_pdf([sheet_of("a4", [])] * 120))
    assert len(pypdf.PdfReader(place, strict=True).pages) == 120
    assert is_ours(place)


def test_somebody_elses_file_is_left_alone_without_force(tmp_path: Path) -> None:
    place = tmp_path / "sheet.pdf"
    place.write_bytes(b"%PDF-1.4 the manual, scanned")
    done = sheet(JACK, "-o", str(place))
    assert done.exit_code == 2
    assert done.stderr.startswith(f"{place}: not written")
    assert "--force" in done.stderr
    assert place.read_bytes() == b"%PDF-1.4 the manual, scanned"
    assert sheet(JACK, "-o", str(place), "--force", *SHORT).exit_code == 0
    assert is_ours(place)


def test_the_spec_itself_is_safe_from_its_own_sheet(tmp_path: Path) -> None:
    spec = tmp_path / "amplifier.pdf"
    spec.write_bytes(Path(JACK).read_bytes())
    assert sheet(str(spec), "-o", str(spec)).exit_code == 2
    assert spec.read_bytes() == Path(JACK).read_bytes()


def test_a_missing_folder_is_one_clear_line(tmp_path: Path) -> None:
    done = sheet(JACK, "-o", str(tmp_path / "none" / "sheet.pdf"))
    assert done.exit_code == 2
    assert done.stderr.count("\n") == 1
    assert f"mkdir -p {tmp_path / 'none'}" in done.stderr


def test_several_specs_give_a_sheet_each_named_after_them(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.chdir(tmp_path)
    bad = tmp_path / "bad.yaml"
    bad.write_text("rewire: 1\n")
    done = sheet(str(SPECS / "monitor-jack.yaml"), str(bad), "--json")
    assert done.exit_code == 2
    good, refused = json.loads(done.stdout)
    assert good["output"] == "monitor-jack.pdf"
    assert is_ours(tmp_path / good["output"])
    assert refused["spec"] == str(bad)
    assert refused["errors"]
    assert not (tmp_path / "bad.pdf").exists()


def test_no_two_sheets_go_to_one_place(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.chdir(tmp_path)
    twin = tmp_path / "twin" / "valve-amplifier.yaml"
    twin.parent.mkdir()
    twin.write_bytes(Path(FLAGSHIP).read_bytes())
    for args in ([FLAGSHIP, str(twin)], [FLAGSHIP, str(twin), "-o", "one.pdf"]):
        assert sheet(*args).exit_code == 2
    assert sorted(entry.name for entry in tmp_path.iterdir()) == ["twin"]


def test_an_unknown_wiring_is_answered_with_the_nearest(tmp_path: Path) -> None:
    done = sheet(FLAGSHIP, "-o", str(tmp_path / "s.pdf"), "--wiring", "substitut")
    assert done.exit_code == 2
    assert "nearest is 'substitute'" in done.stderr
    assert not (tmp_path / "s.pdf").exists()


def test_sections_are_chosen_by_name_and_a_typo_is_answered_with_the_nearest(
    tmp_path: Path,
) -> None:
    place = tmp_path / "s.pdf"
    assert sheet(FLAGSHIP, "-o", str(place), "--sections", "acceptance, log").exit_code == 0
    text = " ".join(page.extract_text() for page in pypdf.PdfReader(place).pages)
    assert "As-built log" in text
    assert "Buy for" not in text
    done = sheet(FLAGSHIP, "-o", str(tmp_path / "t.pdf"), "--sections", "acceptence")
    assert done.exit_code == 2
    assert "Did you mean acceptance?" in done.stderr
    assert not (tmp_path / "t.pdf").exists()


def test_what_was_chosen_stands_in_the_name_and_no_other_sheet_is_lost(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.chdir(tmp_path)
    # The card is judged in tests/draw, and takes most of a sheet's time.
    monkeypatch.setattr(contents, "card_pages", lambda *_: (Scene(210.0, 297.0, (), "card"),))
    verdict = ["--sections", "verdict"]
    choices = (
        [], ["--wiring", "substitute"], verdict, [*verdict, "--wiring", "substitute"],
        [*verdict, "--wiring", "as-found"],
        [*verdict, "--wiring", "as-found", "--wiring", "substitute"],
        [*verdict, "--log", str(LOG)],
    )  # fmt: skip
    outputs = []
    for choice in choices:
        done = sheet(FLAGSHIP, "--json", *choice)
        assert done.exit_code == 0, done.stderr
        outputs.append(json.loads(done.stdout)["output"])
    assert outputs[0] == "valve-amplifier.pdf"
    assert outputs[1] == "valve-amplifier-substitute.pdf"
    assert len(set(outputs)) == len(choices)
    assert {entry.name for entry in tmp_path.iterdir()} == set(outputs)
