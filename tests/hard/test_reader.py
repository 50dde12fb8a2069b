"""The reader under attack: a message, in little time and little memory, whatever the bytes."""

from __future__ import annotations

import json
import subprocess
import sys

import pytest

from rewire.spec import SpecError, read_text

HEAD = b"rewire: 1\ntitle: t\n"
MEGABYTE = 1_000_000
BOMB = b"a: &a [x, x, x, x, x, x, x, x, x]\n" + b"".join(
    f"{chr(98 + i)}: &{chr(98 + i)} [{', '.join(['*' + chr(97 + i)] * 9)}]\n".encode()
    for i in range(20)
)
ATTACKS = {
    "lists nested deep": "b'[' * 16_000_000",
    "mappings nested deep": "HEAD + b'note: ' + b'{a: ' * 500_000",
    "indents nested deep": "HEAD + b''.join(b' ' * i + b'a:\\n' for i in range(3000))",
    "a bomb of aliases": "BOMB",
    "an alias of itself": "b'a: &a [*a]\\n'",
    "a million wires": (
        "HEAD + b'points: {A: {}, B: {}}\\nwirings:\\n  x: {}\\n  original:\\n    wires:\\n'"
        " + b'    - [A,B]\\n' * 1_000_000"
    ),
    "a name of a megabyte": "HEAD + b'points: {? ' + b'A' * MEGABYTE + b' : {}}\\n'",
    "a value of a megabyte": "HEAD + b'parts: {R1: {resistor: ' + b'1' * MEGABYTE + b'}}\\n'",
    "brackets of a megabyte": (
        "HEAD + b'parts: {R1: {resistor: \"' + b'(' * MEGABYTE + b'1\"}}\\n'"
    ),
    "a number of a megabyte of digits": (
        "HEAD + b'parts: {X1: {strip: ' + b'9' * MEGABYTE + b'}}\\n'"
    ),
    "a quote never closed": "HEAD + b'note: \"' + b'x' * 15 * MEGABYTE",
    "colons": "b': ' * 8 * MEGABYTE",
    "tabs": "b'\\t' * 16 * MEGABYTE",
    "lines indented with tabs": "b' \\tx\\n' * 4 * MEGABYTE",
    "comments": "b'a #b\\n' * MEGABYTE",
    "nothing but line ends": "b'\\n' * 4 * MEGABYTE",
    "over the limit": "b'a' * 17 * 1024 * 1024",
    "one key, again and again": "HEAD + b'a: 1\\n' * 100_000",
    "keys that nobody knows": "HEAD + b''.join(b'k%d: 1\\n' % i for i in range(20_000))",
}
LIMITED = """
import json, resource, sys
resource.setrlimit(resource.RLIMIT_AS, (1_500_000_000, 1_500_000_000))
resource.setrlimit(resource.RLIMIT_CPU, (60, 60))
from tests.hard.test_reader import ATTACKS, BOMB, HEAD, MEGABYTE
from rewire.spec import SpecError, read_text
told = {}
for name, attack in ATTACKS.items():
    try:
        read_text(eval(attack), "spec.yaml")
        told[name] = []
    except SpecError as error:
        told[name] = str(error).split(chr(10))
print(json.dumps(told))
"""


@pytest.fixture(scope="module")
def told() -> dict[str, list[str]]:
    """What is said to each attack, by a process of 1.5 GB and a minute for all of them."""
    done = subprocess.run(
        [sys.executable, "-c", LIMITED], capture_output=True, encoding="utf-8", check=False
    )
    assert done.returncode == 0, done.stderr[-2000:]
    found: dict[str, list[str]] = json.loads(done.stdout)
    return found


@pytest.mark.parametrize("name", ATTACKS)
def test_an_attack_ends_in_a_few_short_lines_with_places(
    told: dict[str, list[str]], name: str
) -> None:
    said = told[name]
    assert 1 <= len(said) <= 101  # a hundred faults, and how many more
    for line in said:
        assert line.startswith("spec.yaml:")
        assert line.isprintable()
        assert len(line) <= 400


def refused(data: bytes) -> str:
    with pytest.raises(SpecError) as caught:
        read_text(data, "spec.yaml")
    return str(caught.value)


GOOD = """rewire: 1
title: {title}
controls: {{K: [LEFT, RIGHT]}}
points: {{CH: {{chassis: yes}}, FEED: {{note: "{note}"}}}}
wirings:
  original:
    parts: {{S1: {{switch: SPDT, control: K, timing: non-shorting}}}}
    wires:
      - [FEED, S1.A]
      - [S1.A2, CH]
  other:
    parts: {{S1: {{switch: SPDT, control: K, timing: non-shorting}}}}
    wires:
      - [FEED, S1.A]
      - [S1.A2, CH]
"""


def test_a_byte_order_mark_and_line_ends_of_any_system_change_nothing() -> None:
    plain = GOOD.format(title="one", note="two").encode()
    expected = read_text(plain)
    lines = plain.splitlines()
    ends = [b"\n", b"\r\n", b"\r"]
    mixed = b"".join(line + ends[i % 3] for i, line in enumerate(lines))
    for other in (b"\xef\xbb\xbf" + plain, *(end.join(lines) + end for end in ends[1:]), mixed):
        found = read_text(other)
        assert found.wirings == expected.wirings
        assert found.points == expected.points
        assert found.controls == expected.controls


def test_a_nul_byte_is_named_with_its_place() -> None:
    said = refused(GOOD.format(title="o\0e", note="two").encode())
    assert said.startswith("spec.yaml:2:9: ")
    assert "control character" in said


def test_a_byte_that_is_not_utf_8_is_named_with_its_place() -> None:
    said = refused(GOOD.format(title="caf\xe9", note="two").encode("latin-1"))
    assert said.startswith("spec.yaml:2:11: byte 0xe9 is not UTF-8")
    assert refused(GOOD.format(title="x", note="y").encode("utf-16")).startswith("spec.yaml:1:1: ")


def test_writing_from_right_to_left_is_kept_as_it_was_typed() -> None:
    hebrew, arabic = "\u05de\u05ea\u05d2", "\u0642\u0627\u0637\u0639 \u202e12"
    spec = read_text(GOOD.format(title=hebrew, note=arabic).encode())
    assert spec.title == hebrew
    assert spec.points["FEED"].note == arabic
