"""Any bytes, and any spec, with every command that reads one: a status, a message, no traceback."""

from __future__ import annotations

import copy
import io
import re
from collections.abc import Sequence
from itertools import islice
from pathlib import Path
from typing import Any
from xml.etree import ElementTree

import pypdf
import pytest
import yaml
from hypothesis import HealthCheck, given, settings, strategies as st

from rewire.cli.board import line_faults
from rewire.cli.edition import edition
from rewire.cli.trouble import trouble_of
from rewire.reading import SpecError, read_text
from tests.hard.commands import EVERY, REPORTS, SMALL, ran, spelt, with_text_everywhere
from tests.reading.builders import as_yaml, full

GARBAGE: dict[str, bytes] = {
    "nothing": b"",
    "a byte-order mark": b"\xef\xbb\xbf",
    "NUL bytes": b"\0" * 5000,
    "blanks": b" \n\t\r\n " * 100,
    "a program": b"\x7fELF\x02\x01\x01" + bytes(range(256)) * 20,
    "a picture": b"\x89PNG\r\n\x1a\n\0\0\0\rIHDR",
    "a sheet": b"%PDF-1.4\n%\xe2\xe3\xcf\xd3\n1 0 obj\n<</Type/Catalog>>",
    "a page": b"<!doctype html>\n<html><body>&amp;</body></html>",
    "UTF-16": "rewire: 1\ntitle: t\n".encode("utf-16"),
    "Latin-1": "rewire: 1\ntitle: Röhre\n".encode("latin-1"),
    "JSON": b'{"rewire": 1, "title": {"a": [1, 2, null, true]}}',
    "a number": b"42",
    "a list": b"- a\n- b\n",
    "nested deep": b"rewire: 1\na: " + b"[" * 100_000,
    "a bomb": b"rewire: 1\na: &a [x, x]\n"
    + b"".join(b"k%d: &%c [*%c, *%c, *%c]\n" % (i, 98 + i, *[97 + i] * 3) for i in range(20)),
    "a call": b"!!python/object/apply:os.system ['touch here']\n",
    "two documents": b"rewire: 1\n---\nrewire: 1\n",
    "right to left": "rewire: 1\ntitle: \u202eabc\n\u05d0: \u05d1\n".encode(),
    "mixed line ends": b"rewire: 1\r\ntitle: t\rnote: x\n\r\x0b",
    "a name of a megabyte": b"rewire: 1\n" + b"a" * 1_000_000 + b": 1\n",
}
READING: dict[str, Sequence[str]] = {
    **EVERY,
    "values --drawer": ("values", str(SMALL), "--drawer", "SPEC"),
    "fit --drawer": ("fit", str(SMALL), "--drawer", "SPEC"),
    "shunt --drawer": (
        "shunt", "1 A", "--meter", "1 mA", "--resistance", "100 ohm", "--drawer", "SPEC",
    ),
    "buzz --found": ("buzz", str(SMALL), "--found", "SPEC"),
    "sheet --log": ("sheet", str(SMALL), "--log", "SPEC", "-o", "sheet.pdf"),
    "identify switch": ("identify", "switch", "SPEC"),
}  # fmt: skip
"""Every command and option that takes a file."""


@pytest.mark.parametrize("name", READING)
def test_any_bytes_end_in_status_2_with_a_message(name: str, tmp_path: Path) -> None:
    path = tmp_path / "given"
    words = spelt(READING[name], path, tmp_path)
    for what, data in GARBAGE.items():
        path.write_bytes(data)
        done = ran(*words)
        assert done.exit_code == 2, what
        lines = done.stderr.splitlines()
        assert 1 <= len(lines) <= 101, what
        for line in lines:
            assert line.startswith(f"{path}:"), what
            assert line.isprintable()
            assert len(line) <= 1000, what
        assert list(tmp_path.iterdir()) == [path], what


@settings(max_examples=25)
@given(name=st.sampled_from(sorted(READING)), data=st.binary(max_size=300))
def test_random_bytes_do(name: str, data: bytes, tmp_path_factory: pytest.TempPathFactory) -> None:
    folder = tmp_path_factory.mktemp("random")
    path = folder / "given"
    path.write_bytes(data)
    done = ran(*spelt(READING[name], path, folder))
    assert done.exit_code == 2
    assert f"{path}:" in done.stderr


@pytest.mark.parametrize("name", READING)
def test_a_device_without_end_is_read_as_far_as_a_file_may_be_long(
    name: str, tmp_path: Path
) -> None:
    done = ran(*spelt(READING[name], Path("/dev/zero"), tmp_path))
    assert done.exit_code == 2
    assert (
        done.stderr
        == "/dev/zero:1:1: the file is over 16 MiB; a spec is a few hundred lines of text\n"
    )


# Words that YAML's own readers turn into something else, and values that no part has.
RAW = (
    "!!python/object/apply:os.system [exit]", "!!int 5", "!!binary aGk=", "!!set {a}", "!!float 1",
    "&a [x, *a]", "&a {b: *a}", "*a", "{<<: {a: b}}", "{? [a] : b}", "2024-01-01", "12:30:45", "=",
    ".nan", "-.inf", ".inf", "1e400", "-5", "0", "0x1F", "0o7", "1_000", "null", "~", "true", "no",
    "[]", "{}", "''", "[[a]]", "{a: {b: c}}", "|\n x", '"\\u202e"', '"\\0"', "@", "[", "{a: b",
)  # fmt: skip
WORDS = (
    "fit", "unknown", "open", "short", "silicon", "table", "SPST", "3P3T", "1P1T", "12P12T", "DPDT",
    "shorting", "non-shorting", "0 ohm", "1e-15 ohm", "1e-6 ohm", "1e15 ohm", "1e18 ohm", "0 A",
    "1e-15 A", "1e9 A", "-1 A", "0 V", "1e-12 V", "1e12 V", "-1 kV", "0 %", "100 %", "1e9 %",
    "50 mV",
    "1 ohm + 1 ohm || 2 ohm", "10 Mohm || 0 ohm", "E192", "E3", "1", "2", "-1", "1.5", "any",
    "left",
    "ccw", "original", "CHASSIS", "FEED", "S1.A", "S1.A1", "M1.+", "R1.1", "0-100", "5-5", "100-0",
    "RD", "x" * 500, "Ω", "a b", "\u202e", "\u05d0",
)  # fmt: skip
NUMBERS = ("0", "1e-12", "1e-3", "1.0001", "1e6", "1e15", "-1")
Path_ = tuple[Any, ...]


def places(value: Any, path: Path_ = ()) -> list[Path_]:
    """Every path in a tree but the root."""
    steps = value.items() if isinstance(value, dict) else enumerate(value)
    inner = () if isinstance(value, str) else steps
    return [*([path] if path else []), *(p for s, item in inner for p in places(item, (*path, s)))]


def at(tree: Any, path: Path_) -> Any:
    for step in path:
        tree = tree[step]
    return tree


@st.composite
def spoilt_specs(draw: st.DrawFn, most: int = 4) -> bytes:
    """A good spec with a few values gone, taken from elsewhere, or such as nobody would write."""
    spec = copy.deepcopy(draw(st.sampled_from((with_text_everywhere("plain"), full(), METERED))))
    raw: list[str] = []
    for _ in range(draw(st.integers(1, most))):
        known = places(spec)
        path = draw(st.sampled_from(known))
        holder, step = at(spec, path[:-1]), path[-1]
        how = draw(
            st.sampled_from(("drop", "word", "word", "number", "other", "other", "raw", "key"))
        )
        if how == "drop":
            del holder[step]
        elif how == "word":
            holder[step] = draw(st.sampled_from(WORDS))
        elif how == "number" and isinstance(holder[step], str):
            holder[step] = re.sub(r"^[0-9.]+", draw(st.sampled_from(NUMBERS)), holder[step])
        elif how == "raw":
            raw.append(draw(st.sampled_from(RAW)))
            holder[step] = f"RAW{len(raw) - 1}WAR"
        elif how == "key" and isinstance(holder, dict):
            holder[draw(st.sampled_from(WORDS))] = holder.pop(step)
        else:
            holder[step] = copy.deepcopy(at(spec, draw(st.sampled_from(known))))
    text = as_yaml(spec).decode()
    return re.sub(r"RAW(\d+)WAR", lambda found: raw[int(found[1])], text).encode()


METERED = yaml.load(SMALL.read_text("utf-8"), yaml.BaseLoader)
FIT = ("fit", "SPEC", "--switch", "3P4T", "--time-limit", "2")
TRIED: dict[str, Sequence[str]] = {**REPORTS, "fit": FIT, "fit --json": (*FIT, "--json")}
DRAWN = ("draw", "SPEC", "--format", "svg", "-o", "FOLDER")
CARD = ("sheet", "SPEC", "--section", "card", "-o", "sheet.pdf")
OLD = b"<!-- rewire-made --> of yesterday"


def survives(data: bytes, words: Sequence[str], folder: Path) -> int:
    """One of the four statuses, and words with each; every other error passes."""
    path = folder / "spec.yaml"
    path.write_bytes(data)
    done = ran(*spelt(words, path, folder))
    assert done.exit_code in (0, 1, 2, 3)
    assert done.stderr if done.exit_code == 2 else done.output
    assert "Traceback" not in done.output
    assert not Path("exit").exists()
    return done.exit_code


def is_whole(file: Path) -> bool:
    """Whether nothing of a file is missing: PDF to its pages, HTML to its end, SVG well formed."""
    data = file.read_bytes()
    if file.suffix == ".pdf":
        return len(pypdf.PdfReader(io.BytesIO(data), strict=True).pages) > 0
    if file.suffix == ".html":
        return data.startswith(b"<!doctype html>") and b"\n</html>\n" in data[-60:]
    return file.suffix == ".svg" and ElementTree.fromstring(data).tag.endswith("svg")


@settings(max_examples=50, suppress_health_check=[HealthCheck.data_too_large])
@given(data=spoilt_specs(), name=st.sampled_from(sorted(TRIED)))
def test_any_spec_ends_in_an_answer_or_in_a_message(
    data: bytes, name: str, tmp_path_factory: pytest.TempPathFactory
) -> None:
    survives(data, TRIED[name], tmp_path_factory.getbasetemp())


@settings(max_examples=12)
@given(
    data=spoilt_specs(most=1), words=st.sampled_from((CARD, EVERY["sheet"], EVERY["page"], DRAWN))
)
def test_any_spec_is_drawn_whole_or_refused_and_the_old_file_stays(
    data: bytes, words: Sequence[str], tmp_path_factory: pytest.TempPathFactory
) -> None:
    folder = tmp_path_factory.mktemp("drawn")
    there = [folder / word for word in words if word.endswith((".pdf", ".html"))]
    for place in there:
        place.write_bytes(OLD)
    status = survives(data, words, folder)
    files = [file for file in folder.iterdir() if file.name != "spec.yaml"]
    if status in (0, 1):
        assert files
        assert all(map(is_whole, files)), files
    else:
        assert files == there
        assert all(place.read_bytes() == OLD for place in there)


@settings(max_examples=20)
@given(data=spoilt_specs(most=1))
def test_any_save_is_shown_as_faults_with_their_places_or_as_whole_pages(data: bytes) -> None:
    """What ``rewire watch`` sends to the browser, the last page left out: it is the sheet's."""
    try:
        read_text(data, "spec.yaml")
    except SpecError as error:
        told = line_faults(trouble_of(error), data)
        assert told
        return
    told, *pages = islice(edition(data, "spec.yaml"), 2)
    assert told["faults"] or told["sections"]
    for one in pages:
        assert one.get("faults") or b"\n</html>\n" in one["html"][-60:]


@settings(max_examples=30)
@given(data=spoilt_specs() | st.binary(max_size=200), asked=st.booleans())
def test_any_lines_in_place_of_answers_write_no_half_spec(
    data: bytes, asked: bool, tmp_path_factory: pytest.TempPathFactory
) -> None:
    """A file of answers, or what is typed into the interview."""
    folder = tmp_path_factory.mktemp("told")
    spec, answers = folder / "new.yaml", folder / "kept.txt"
    answers.write_bytes(data)
    typed = data.decode("utf-8", "replace")
    words = ("--ask",) if asked else ("--answers", str(answers))
    done = ran("new", str(spec), *words, typed=typed if asked else "")
    assert done.exit_code in (0, 2)
    assert "Traceback" not in done.output
    assert spec.exists() == (done.exit_code == 0)
    assert answers.read_bytes() == data
    if spec.exists():
        read_text(spec.read_bytes(), str(spec))


@pytest.mark.parametrize("found", sorted((Path(__file__).parent / "found").glob("*.yaml")))
def test_what_once_broke_a_command_does_no_more(found: Path, tmp_path: Path) -> None:
    for words in (*TRIED.values(), DRAWN):
        survives(found.read_bytes(), words, tmp_path)
