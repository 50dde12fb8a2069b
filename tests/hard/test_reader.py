"""The reader under attack: a message, in little time and little memory, whatever the bytes."""

from __future__ import annotations

import itertools
import json
import subprocess
import sys
from collections.abc import Iterator
from dataclasses import dataclass
from typing import Any

import pytest

from rewire.reading import SpecError, read_text
from tests.reading.builders import full, put

HEAD = b"rewire: 1\ntitle: t\n"
MEGABYTE = 1_000_000
BOMB = b"a: &a [x, x, x, x, x, x, x, x, x]\n" + b"".join(
    f"{chr(98 + i)}: &{chr(98 + i)} [{', '.join(['*' + chr(97 + i)] * 9)}]\n".encode()
    for i in range(20)
)
ATTACKS = {
    "lists nested deep": "b'[' * MEGABYTE",
    "mappings nested deep": "HEAD + b'note: ' + b'{a: ' * 100_000",
    "indents nested deep": "HEAD + b''.join(b' ' * i + b'a:\\n' for i in range(3000))",
    "a bomb of aliases": "BOMB",
    "an alias of itself": "b'a: &a [*a]\\n'",
    "six hundred thousand wires": (
        "HEAD + b'points: {A: {}, B: {}}\\nwirings:\\n  x: {}\\n  original:\\n    wires:\\n'"
        " + b'    - [A,B]\\n' * 600_000"
    ),
    "a name of a megabyte": "HEAD + b'points: {? ' + b'A' * MEGABYTE + b' : {}}\\n'",
    "a value of a megabyte": "HEAD + b'parts: {R1: {resistor: ' + b'1' * MEGABYTE + b'}}\\n'",
    "brackets of a megabyte": (
        "HEAD + b'parts: {R1: {resistor: \"' + b'(' * MEGABYTE + b'1\"}}\\n'"
    ),
    "a number of a megabyte of digits": (
        "HEAD + b'parts: {X1: {strip: ' + b'9' * MEGABYTE + b'}}\\n'"
    ),
    "a quote never closed": "HEAD + b'note: \"' + b'x' * MEGABYTE",
    "colons": "b': ' * 300_000",
    "tabs": "b'\\t' * MEGABYTE",
    "lines indented with tabs": "b' \\tx\\n' * 300_000",
    "comments": "b'a #b\\n' * 100_000",
    "nothing but line ends": "b'\\n' * MEGABYTE",
    "over the limit": "b'a' * 17 * 1024 * 1024",
    "one key, again and again": "HEAD + b'a: 1\\n' * 30_000",
    "keys that nobody knows": "HEAD + b''.join(b'k%d: 1\\n' % i for i in range(20_000))",
}
EMPTY, WIRED = "nothing", "thirty thousand wires"
RUNS = {
    **ATTACKS,
    EMPTY: "b''",
    WIRED: (
        "HEAD + b'controls: {}\\npoints: {A: {}, B: {}}\\nwirings:\\n  x: {}\\n  original:\\n"
        "    wires:\\n' + b'    - [A,B]\\n' * 30_000"
    ),
}
# Each in a fork of its own, so that what one takes is not counted with the next (getrusage(2)).
LIMITED = """
import json, os, resource, sys
from tests.hard.test_reader import BOMB, HEAD, MEGABYTE, RUNS
from rewire.reading import SpecError, read_text
told = {}
for name, attack in RUNS.items():
    data = eval(attack)
    theirs, ours = os.pipe()
    child = os.fork()
    if child == 0:
        resource.setrlimit(resource.RLIMIT_AS, (2_000_000_000, 2_000_000_000))
        resource.setrlimit(resource.RLIMIT_CPU, (60, 60))
        said = []
        try:
            read_text(data, "spec.yaml")
        except SpecError as error:
            said = str(error).split(chr(10))
        os.write(ours, json.dumps(said).encode()[:60_000])
        os._exit(0)
    os.close(ours)
    with os.fdopen(theirs, "rb") as file:
        said = file.read()
    _, status, used = os.wait4(child, 0)
    told[name] = (status, len(data), used.ru_maxrss * 1024, json.loads(said or "[]"))
print(json.dumps(told))
"""


@dataclass(frozen=True)
class Read:
    """How a fork that read one file ended."""

    status: int
    size: int
    most: int
    """Bytes of memory; all attacks begin with what Python and the program take."""
    said: list[str]


@pytest.fixture(scope="module")
def told() -> dict[str, Read]:
    """What is said to each attack, by a process of 2 GB and a minute for each."""
    done = subprocess.run(
        [sys.executable, "-c", LIMITED], capture_output=True, encoding="utf-8", check=False
    )
    assert done.returncode == 0, done.stderr[-2000:]
    return {name: Read(*found) for name, found in json.loads(done.stdout).items()}


@pytest.mark.parametrize("name", ATTACKS)
def test_an_attack_ends_in_a_few_short_lines_with_places(told: dict[str, Read], name: str) -> None:
    assert told[name].status == 0
    said = told[name].said
    assert 1 <= len(said) <= 101  # a hundred faults, and how many more
    for line in said:
        assert line.startswith("spec.yaml:")
        assert line.isprintable()
        assert len(line) <= 400


@pytest.mark.parametrize("name", RUNS)
def test_memory_stays_within_what_the_size_of_the_file_explains(
    told: dict[str, Read], name: str
) -> None:
    """At most 150 bytes for each of the file's, which is a node in the tree for every two."""
    taken = told[name].most - told[EMPTY].most
    assert taken <= 40 * MEGABYTE + 150 * told[name].size


def test_thirty_thousand_wires_are_read(told: dict[str, Read]) -> None:
    assert told[WIRED].status == 0
    assert told[WIRED].said == []


LONGEST = """
import resource
resource.setrlimit(resource.RLIMIT_AS, (700_000_000, 700_000_000))
from tests.hard.test_reader import with_long_text
from rewire.reading import SpecError, read_text
for data in with_long_text():
    try:
        read_text(data, "spec.yaml")
    except SpecError as error:
        print(*map(len, str(error).split(chr(10))))
"""


def test_a_long_text_in_any_place_is_answered_in_lines_that_can_be_read() -> None:
    """And in less memory than would be taken by ten copies of each of its letters on the way."""
    done = subprocess.run(
        [sys.executable, "-c", LONGEST], capture_output=True, encoding="utf-8", check=False
    )
    assert done.returncode == 0, done.stderr[-2000:]
    assert len(done.stdout.split("\n")) > 60
    assert max(map(int, done.stdout.split())) <= 1000


def with_long_text() -> Iterator[bytes]:
    """The spec that has every key, a quarter of a megabyte in place of one text after another."""
    signs = itertools.cycle(("1", "A", "(", "a ", "1+", "S1."))
    seen = set()
    for path in text_places(full()):
        kind = tuple(step for step in path if isinstance(step, str))
        if kind in seen:
            continue
        seen.add(kind)
        sign = next(signs)
        spec = json.dumps(put(full(), path, "HERE"))
        yield spec.replace("HERE", sign * (MEGABYTE // 4 // len(sign))).encode()


def text_places(value: Any, path: tuple[str | int, ...] = ()) -> Iterator[tuple[str | int, ...]]:
    if isinstance(value, str):
        yield path
        return
    steps = value.items() if isinstance(value, dict) else enumerate(value)
    for step, item in steps:
        yield from text_places(item, (*path, step))


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
    assert said.startswith("spec.yaml:2:11: ")
    assert "UTF-8" in said
    assert "0xe9" in said
    assert refused(GOOD.format(title="x", note="y").encode("utf-16")).startswith("spec.yaml:1:1: ")


def test_writing_from_right_to_left_is_kept_as_it_was_typed() -> None:
    hebrew, arabic = "\u05de\u05ea\u05d2", "\u0642\u0627\u0637\u0639 \u202e12"
    spec = read_text(GOOD.format(title=hebrew, note=arabic).encode())
    assert spec.title == hebrew
    assert spec.points["FEED"].note == arabic
