"""YAML broken by a slip of the pen: told where it is, with a way out, once.

Every line of a shipped spec is spoilt in every way below. Whoever spoils a file knows where the
fault is, so no other judge is needed; nothing else may be called wrong, and nothing forgotten.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Iterator
from pathlib import Path

import pytest
import yaml

from rewire.reading import SpecError, read_text, text
from rewire.reading.faults import Fault
from tests.reading.builders import text_faults

SPECS = Path(__file__).parents[2] / "specs"
LINES = (SPECS / "monitor-jack.yaml").read_text("utf-8").split("\n")
LATER = "mend this first, the rest of the file was not read"
KEY = re.compile(r"( *(?:- )?)([\w-]+):(?= )")


def without_each(signs: str) -> Callable[[str], Iterator[str]]:
    def spoil(line: str) -> Iterator[str]:
        bare = re.sub(r"#.*", "", line)
        for found in re.finditer(signs, bare):
            yield f"{line[: found.start()]} {line[found.end() :].lstrip()}"

    return spoil


def on_a_key(change: Callable[[re.Match[str], str], str]) -> Callable[[str], Iterator[str]]:
    def spoil(line: str) -> Iterator[str]:
        key = KEY.match(line)
        if key:
            yield change(key, line[key.end() :].strip())

    return spoil


HERE: dict[str, Callable[[str], Iterator[str]]] = {
    "a bracket not closed": without_each(r"[\]}]"),
    "a bracket not opened": without_each(r"[\[{]"),
    "a bracket too many": lambda line: iter([f"{line} ]"] if line.endswith(("}", "]")) else []),
    "a quote forgotten": lambda line: (
        line[:at] + line[at + 1 :] for at, sign in enumerate(line) if sign == '"'
    ),
    "a colon forgotten": on_a_key(lambda key, rest: f"{key[1]}{key[2]} {rest}"),
    "a sign that begins no text": on_a_key(lambda key, rest: f"{key[0]} @{rest}"),
    "a second colon": on_a_key(lambda key, _: f"{key[0]} one: other"),
    "a comma forgotten in braces": without_each(r", (?=\w+: )"),
    "a comma forgotten between places": without_each(r"(?<=\w), (?=[A-Z]+\w*[.,\]])(?!.*: )"),
}
"""Slips that are to be told in their own line."""
NEAR = {
    "a blank too many before it": lambda line: iter([f" {line}"] if line.startswith("  ") else []),
    "a blank too few before it": lambda line: iter([line[1:]] if line.startswith("  ") else []),
    "a bracket behind a key": lambda line: iter([f"{line}]"] if line.endswith(":") else []),
}
"""Slips that may be noticed a line further on."""


def spoilt(spoil: Callable[[str], Iterator[str]]) -> Iterator[tuple[int, list[str]]]:
    """The number of a line, from 1, and all lines with that one spoilt."""
    for number, line in enumerate(LINES):
        if line.strip() and not line.lstrip().startswith("#"):
            yield from (
                (number + 1, [*LINES[:number], bad, *LINES[number + 1 :]]) for bad in spoil(line)
            )


def faults(lines: list[str]) -> tuple[Fault, ...]:
    try:
        read_text("\n".join(lines).encode(), "s.yaml")
    except SpecError as error:
        return error.faults
    return ()


@pytest.mark.parametrize("name", HERE)
def test_a_slip_gives_one_fault_in_its_line(name: str) -> None:
    count = 0
    for number, lines in spoilt(HERE[name]):
        found = faults(lines)
        if not found and name in ("a quote forgotten", "a bracket not opened"):
            continue  # a text that ends in a quote, or a bracket in a text: allowed
        count += 1
        assert {fault.place.line for fault in found} == {number}, (lines[number - 1], found)
        assert all(fault.hint or fault.message.endswith("missing") for fault in found)
    assert count >= 5


def around(number: int) -> Iterator[int]:
    """The line of a file's text below a line, and the first that stands no deeper than it."""
    deep = len(LINES[number - 1]) - len(LINES[number - 1].lstrip())
    texts = [n for n in range(number + 1, len(LINES) + 1) if LINES[n - 1].split("#")[0].strip()]
    yield from texts[:1]
    yield from [n for n in texts if len(LINES[n - 1]) - len(LINES[n - 1].lstrip()) <= deep][:1]


@pytest.mark.parametrize("name", NEAR)
def test_a_slip_of_indent_is_told_once_there_or_where_the_next_line_shows_it(
    name: str,
) -> None:
    count = 0
    for number, lines in spoilt(NEAR[name]):
        found = faults(lines)
        if not found:
            continue  # the only key of its mapping may stand anywhere
        count += 1
        assert len(found) == 1, found
        assert found[0].place.line in (number, *around(number)), (number, found)
        assert found[0].hint
    assert count >= 5


def test_without_libyaml_slips_are_told_in_the_same_lines(monkeypatch: pytest.MonkeyPatch) -> None:
    sample = [one for name in HERE for one in list(spoilt(HERE[name]))[::25]]
    by_libyaml = [{fault.place.line for fault in faults(lines)} for _, lines in sample]
    monkeypatch.setattr(text, "_Loader", yaml.BaseLoader)
    assert [{fault.place.line for fault in faults(lines)} for _, lines in sample] == by_libyaml


HEAD = "rewire: 1\ntitle: t\ncontrols: {K: [P, Q]}\npoints: {CH: {chassis: yes}, X: }\n"
SAID = {
    "- [CH R1.1]": "'CH R1.1' is not one name; write a comma between two: CH, R1.1",
    "- [CH, R1.1 RD]": "'R1.1 RD' is not one name; write a comma between two: R1.1, RD",
    "- {from: CH to: R1.1}": "a comma is missing before 'to'",
    "- [CH, R1.1": "this '[' is not closed; write ] where it ends",
    "- {from: CH, to: R1.1": "this '{' is not closed; write } where it ends",
    "- [CH, R1.1}": "'}' stands where ']' should; write ]",
    "- [CH, R1.1]]": "']' closes nothing; take it out, or open it",
    "- [CH, R1.1] RD": "text behind ']'; take it out, or write it inside",
    '- [CH, "R1.1]': "this quote is not closed; write the same sign at its end",
    "- {from: CH, to: R1.1, note: 'don't'}": "a comma is missing before 't'",
    '- {from: CH, to: R1.1, note: "\\q"}': "a backslash before 'q' means nothing in a text",
    "- {from: CH, to: R1.1, note: @x}": "a text cannot begin with '@'; put the text in quotes",
    "- {from: CH, to: R1.1, note: *}": "'*' at the beginning of a text means something else",
    "- {from: CH, to: R1.1, note: a: b}": "a second ': ' in one value; put text that holds",
    "- {from: CH, to: R1.1, note: #3}": "' #' cuts a line short",
    "- {from: CH, to: R1.1, note: !x y}": "tag '!x' is not read; leave the tag out",
    "- {from: CH, to: R1.1, note: *x}": "alias '*x' stands for nothing here",
    "- {from: CH, to: R1.1, <<: x}": "merge keys (<<) are not read; write the keys out",
    "- {from: CH, to: R1.1, [a]: x}": "a list or mapping used as a key",
    '- {from: CH, to: R1.1, note: "\\a"}': "a control character in a text; take it out",
}


@pytest.mark.parametrize("wire", SAID)
def test_a_slip_in_a_wire_is_called_by_its_name(wire: str) -> None:
    """Where YAML is not broken by it, the next wire is judged as well."""
    said = text_faults(
        f"{HEAD}wirings:\n  original:\n    parts: {{R1: {{resistor: 1k}}}}\n"
        f"    wires:\n      {wire}\n      - [R1.2, CHX]\n  other:\n"
    ).split("\n")
    assert said[0].startswith("s.yaml:9:")
    assert SAID[wire] in said[0]
    judged = ["s.yaml:10:16: no point 'CHX'; nearest is 'CH'"]
    assert said[1:] == ([] if said[0].endswith(LATER) else judged)


ROOT = {
    " title2: x\n": "this line is indented unlike any line above it",
    "- x\n": "an item of a list where a key should be",
    "? [a, b]\n: c\n": "used as a key",
    "<<: x\n": "merge keys",
    "--- \nrewire: 1\n": "a second document begins here",
    "title2: a\0b\n": "control characters are not allowed",
}


@pytest.mark.parametrize("body", ROOT)
def test_where_nothing_more_can_be_read_that_is_said(body: str) -> None:
    said = text_faults(HEAD + body + "wirings: {original: , other: }\n")
    assert ROOT[body] in said
    assert said.endswith(LATER)


def test_a_tag_before_the_first_key_is_told_where_it_stands() -> None:
    said = text_faults("!!swap " + HEAD + "sumary: x\nwirings: {original: , other: }\n")
    tag = "s.yaml:1:1: tag 'tag:yaml.org,2002:swap' is not read; leave the tag out"
    assert said == f"{tag}; {LATER}"


def test_the_first_of_many_slips_is_reported() -> None:
    said = text_faults(HEAD + "".join(f"k{n}: @\n" for n in range(100)))
    assert said == f"s.yaml:5:5: a text cannot begin with '@'; put the text in quotes; {LATER}"
