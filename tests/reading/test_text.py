"""Text, not YAML's guesses; and the traps of YAML written by hand."""

from __future__ import annotations

import pickle

import pytest
import yaml
from hypothesis import given, strategies as st

from rewire.reading import SpecError, read_spec, read_text, text
from tests.reading.builders import as_yaml, full, text_faults

HEAD = "rewire: 1\ntitle: t\ncontrols: {K: [P, Q]}\npoints: {CH: {chassis: yes}, X: }\n"
TAIL = "wirings: {original: , other: }\n"
WORDS = ["ON", "OFF", "NO", "yes", "1:30", "1.10", "08", "0x1F", "1e3", "null", "~", "2024-01-01"]


def test_the_head_and_tail_used_here_are_right() -> None:
    assert text_faults(HEAD + TAIL) == ""


@pytest.mark.parametrize("word", WORDS)
def test_every_scalar_stays_what_was_typed(word: str) -> None:
    text = HEAD.replace("[P, Q]", f"[{word}, Q]").replace("title: t", f"title: {word}") + TAIL
    spec = read_text(text.encode())
    assert spec.controls["K"].positions == (word, "Q")
    assert spec.title == word


def test_places_count_from_one_without_the_byte_order_mark() -> None:
    text = "\ufeff" + HEAD + "bench: {rating: 10 V}\n" + TAIL
    assert text_faults(text).startswith("s.yaml:5:17: rating: '10 V' is in volts")


@given(st.text(alphabet="aé€𝄞 ", max_size=10), st.integers(0, 5))
def test_line_and_column_are_those_of_an_editor(before: str, lines: int) -> None:
    text = HEAD + "#\n" * lines + f'document: {{author: "x{before}", zzz: 1}}\n' + TAIL
    column = text.split("\n")[4 + lines].index("zzz") + 1
    assert text_faults(text).startswith(f"s.yaml:{5 + lines}:{column}: unknown key 'zzz'")


TRAPS: list[tuple[str, str, str]] = [
    ("a key twice", "title: u\n", "key 'title' given twice; it stands in line 2"),
    ("a key twice below", "bench: {rating: 1 W, rating: 2 W}\n", "5:22: key 'rating' given twice"),
    ("a tab", "bench:\n\trating: 1 W\n", "6:1: a tab in the indent; indent with spaces"),
    ("a tab after blanks", "bench:\n  \trating: 1 W\n", "6:3: a tab in the indent"),
    ("a merge key", "a: &a {b: c}\nbench: {<<: *a}\n", "merge keys (<<) are not read"),
    ("a tag", "summary: !!python/name:os.system x\n", "is not read; leave the tag out"),
    ("a custom tag", "summary: !secret x\n", "tag '!secret' is not read"),
    ("a second document", "---\nrewire: 1\n", "a second document begins here"),
    ("a list as key", "? [a, b]\n: c\n", "used as a key"),
    ("an anchor twice", "summary: &a x\nequipment: &a y\n", "6:12: this anchor (&) is there twice"),
    ("an alias to nothing", "summary: *a\n", "alias"),
    ("an alias in itself", "summary: &a [*a]\n", "this holds itself by an alias"),
    ("a comma", "found: [{what: cut, loose, where: x}]\n", "'loose'; a comma inside a text"),
    ("a colon in a list", "cautions:\n  - Danger: high\n", "quote a text that holds ': '"),
    ("a colon in a text", "summary: see: this\n", "a second ': ' in one line; put text"),
    ("a colon in braces", "bench: {rating: a: b}\n", "in quotes"),
    ("a comment for a text", "summary: #3 amp\n", "' #' begins a comment"),
    ("a comment for a brace", "bench: {rating: #3, x: y}\n" + TAIL, "' #' cuts a line short"),
    ("a bracket", "cautions:\n  - [a, b]\n", "a text is needed, not a list"),
    ("a quote that stays open", 'summary: "abc\n', "5:10: this quote is not closed"),
    ("an escape for a bell", 'summary: "a\\x07b"\n', "a control character"),
    ("nothing", "summary:\n", "no value stands here"),
]


@pytest.mark.parametrize(("body", "said"), [t[1:] for t in TRAPS], ids=[t[0] for t in TRAPS])
def test_a_trap_is_named(body: str, said: str) -> None:
    assert said in text_faults(HEAD + body + TAIL)


def test_a_comment_that_cuts_a_text_is_noticed() -> None:
    text = HEAD + "summary: use wire #3, not 4  # a true comment\n" + TAIL
    spec = read_text(text.encode())
    assert spec.summary == "use wire"
    assert len(spec.notices) == 1
    assert "quotes" in spec.notices[0].message
    fine = HEAD + "summary: use wire  # the thick one\n" + TAIL
    assert read_text(fine.encode()).notices == ()


def test_what_is_written_once_may_be_used_again() -> None:
    text = (
        HEAD
        + "parts: {R1: &r {resistor: 10 ohm, tolerance: 1 %}}\n"
        + "wirings: {original: {parts: {R2: *r, R3: *r}}, other: }\n"
    )
    assert set(read_text(text.encode()).original.parts) == {"R2", "R3"}


def test_an_alias_bomb_is_refused_quickly() -> None:
    lines = ["a: &a0 [x, x, x, x, x, x, x, x, x, x]"]
    lines += [f"b{n}: &a{n} [" + ", ".join([f"*a{n - 1}"] * 10) + "]" for n in range(1, 30)]
    assert "aliases (*) repeat too much" in text_faults("\n".join(lines))


@pytest.mark.parametrize("opening", ["[", "{a: ", "- ", "? "])
def test_deep_nesting_is_refused(opening: str) -> None:
    assert text_faults("a:\n " + opening * 5000)
    assert text_faults(opening * 200_000)


BYTES: list[tuple[bytes, str]] = [
    (b"", "the file is empty"),
    (b"# nothing\n", "the file is empty"),
    (b"rewire: 1\ntitle: caf\xe9\n", "s.yaml:2:11: this is not text in UTF-8 (byte 0xe9)"),
    (b"\xff\xfer\x00e\x00", "is not text in UTF-8"),
    (b"rewire: 1\ntitle: a\x00b\n", "s.yaml:2:9"),
    (b"rewire: 1\ntitle: a\x1b[31mb\n", "s.yaml:2:9"),
    (b"- a\n- b\n", "this file has no keys"),
    (b"text", "this file has no keys"),
    (b"x" * (16 * 1024 * 1024 + 1), "over 16 MiB"),
    (b"%YAML 9.9\n---\na: b\n", "s.yaml:1:"),
]


@pytest.mark.parametrize(("data", "said"), BYTES, ids=[said for _, said in BYTES])
def test_bytes_that_are_no_spec(data: bytes, said: str) -> None:
    with pytest.raises(SpecError) as caught:
        read_text(data, "s.yaml")
    assert said in str(caught.value)
    assert all(c.isprintable() or c == "\n" for c in str(caught.value))


def test_a_file_that_cannot_be_opened(tmp_path: object) -> None:
    for path in (f"{tmp_path}/none.yaml", str(tmp_path), "a\0b"):
        with pytest.raises(SpecError, match="the file cannot be read"):
            read_spec(path)


def test_the_pure_python_parser_reads_the_same(monkeypatch: pytest.MonkeyPatch) -> None:
    data = as_yaml(full())
    by_libyaml = read_text(data)
    monkeypatch.setattr(text, "_Loader", yaml.Loader)
    assert read_text(data) == by_libyaml
    for _, body, _ in TRAPS:
        assert text_faults(HEAD + body + TAIL)


def test_a_small_file_cannot_ask_for_any_number_of_lugs(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("rewire.reading.forms.MOST_CONTACTS", 20_000)
    strips = "".join(f"  Y{number}: {{strip: 10000}}\n" for number in range(1000))
    assert "lugs and contacts up to here" in text_faults(f"{HEAD}parts:\n{strips}{TAIL}")


def test_faults_travel_between_processes() -> None:
    with pytest.raises(SpecError) as caught:
        read_text(b"rewire: 2\n")
    again = pickle.loads(pickle.dumps(caught.value))
    assert str(again) == str(caught.value)
    assert again.faults == caught.value.faults
    spec = read_text(as_yaml(full()))
    assert pickle.loads(pickle.dumps(spec)) == spec
