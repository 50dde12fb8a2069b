"""Text on a terminal: nothing unseen in it, lines that fit, colour only where it is seen."""

from __future__ import annotations

import io
import unicodedata
from itertools import pairwise

import pytest
from hypothesis import given, strategies as st

from rewire.cli.terminal import colours_on, width, write_sections
from rewire.report.section import ReportSection, Words
from rewire.report.text import fitted
from rewire.words.wording import printable

# Unicode Standard Annex 9, table of explicit directional characters and implicit marks (from
# memory: LRM, RLM, ALM, LRE, RLE, PDF, LRO, RLO, LRI, RLI, FSI, PDI).
BIDI = "\u200e\u200f\u061c\u202a\u202b\u202c\u202d\u202e\u2066\u2067\u2068\u2069"
# ECMA-48 / ISO 6429: the control sets C0 and C1, and DEL.
CONTROLS = "".join(map(chr, [*range(0x20), *range(0x7F, 0xA0)]))

hostile = st.text(st.one_of(st.characters(), st.sampled_from(BIDI + CONTROLS)))


@pytest.mark.parametrize("character", [*BIDI, *CONTROLS, "\u2028", "\ud800", "\ufeff"])
def test_what_cannot_be_seen_is_written_out(character: str) -> None:
    """As the Unicode Standard writes a code point, appendix A: U+ and four to six digits."""
    assert printable(f"S1{character}A2") == f"S1‹U+{ord(character):04X}›A2"


@given(text=hostile)
def test_nothing_unseen_is_left_and_nothing_seen_is_changed(text: str) -> None:
    shown = printable(text)
    unseen = {"Cc", "Cf", "Cn", "Co", "Cs", "Zl", "Zp"}
    assert not {unicodedata.category(c) for c in shown} & unseen
    kept = [c for c in text if unicodedata.category(c) not in unseen]
    rest = iter(shown)
    assert all(c in rest for c in kept)


names = st.text(st.characters(categories=["L", "N", "P", "S"]), min_size=1, max_size=80)


@given(words=st.lists(names), indent=st.integers(0, 8), label=st.sampled_from(["", "was    ", "-"]))
def test_lines_fit_unless_one_name_is_longer_and_say_every_word_in_order(
    words: list[str], indent: int, label: str
) -> None:
    lines = fitted(Words(" \n".join(words), label, indent=indent), 60)
    assert " ".join(lines).split() == [*label.split(), *words]
    for line in lines:
        assert len(line) <= 60 or len(line.removeprefix(" " * indent + label).split()) == 1


@pytest.mark.parametrize(("asked", "given_"), [("20", 60), ("72", 72), ("400", 100)])
def test_reports_are_60_to_100_columns_wide(
    monkeypatch: pytest.MonkeyPatch, asked: str, given_: int
) -> None:
    monkeypatch.setenv("COLUMNS", asked)
    assert width() == given_


class Terminal(io.StringIO):
    """A stream that says it is a terminal."""

    def isatty(self) -> bool:
        return True


@pytest.mark.parametrize(
    ("stream", "environment", "coloured"),
    [
        (Terminal(), {}, True),
        (Terminal(), {"NO_COLOR": ""}, True),  # no-color.org: present and not empty
        (Terminal(), {"NO_COLOR": "1"}, False),
        (Terminal(), {"TERM": "dumb"}, False),
        (io.StringIO(), {}, False),
    ],
)
def test_colour_only_where_it_is_seen_and_wanted(
    monkeypatch: pytest.MonkeyPatch,
    stream: io.StringIO,
    environment: dict[str, str],
    coloured: bool,
) -> None:
    monkeypatch.delenv("NO_COLOR", raising=False)
    monkeypatch.setenv("TERM", "xterm")
    for name, value in environment.items():
        monkeypatch.setenv(name, value)
    assert colours_on(stream) is coloured
    monkeypatch.setattr("sys.stdout", stream)
    stream.truncate(0)
    said = (Words("a wiring", "BROKEN:", tone="bad"), Words("aside", tone="faint", indent=2))
    write_sections([ReportSection("verdict", "", said)])
    assert ("\x1b[" in stream.getvalue()) is coloured


@given(
    st.lists(st.sampled_from(["pot", "of", "12", "42", "%", "kΩ", "mA", "1.5", "V"])),
    st.integers(60, 100),
)
def test_no_line_ends_between_a_number_and_its_unit(words: list[str], columns: int) -> None:
    text = " ".join(["x"] + words * 12)
    lines = fitted(Words(text), columns)
    assert " ".join(lines) == text
    for one, other in pairwise(lines):
        is_unit = other.split()[0] in ("%", "kΩ", "mA", "V")
        assert not (is_unit and one[-1].isdigit())
