"""A wiring is let into files of every style, and what stood there stays byte for byte."""

from __future__ import annotations

import random
from pathlib import Path

import pytest
import yaml
from click.testing import CliRunner

from rewire.cli import rewire
from rewire.compare import compare
from rewire.reading import read_spec
from tests.fit.rigs import random_spec


def styled(text: str, style: str) -> bytes:
    if style == "crlf":
        return text.replace("\n", "\r\n").encode()
    if style == "bom":
        return b"\xef\xbb\xbf" + text.encode()
    if style == "no last newline":
        return text.rstrip("\n").encode()
    return text.encode()


CAUTIONS = {"cautions": ["Mind the lid"], "no cautions yet": [], "cautions in flow": ["'S': no"]}


def all_of(before: bytes, after: bytes) -> bool:
    """Whether what was between the first and the last difference stands there in one piece."""
    pairs = list(zip(before, after, strict=False))
    first = next((n for n, (a, b) in enumerate(pairs) if a != b), len(pairs))
    pairs = list(zip(before[first:][::-1], after[first:][::-1], strict=False))
    last = next((n for n, (a, b) in enumerate(pairs) if a != b), len(pairs))
    return before[first : len(before) - last] in after[first : len(after) - last]


@pytest.mark.parametrize(
    "style", ["plain", "crlf", "bom", "no last newline", "flow", "first", *CAUTIONS]
)
@pytest.mark.parametrize("seed", range(3))
def test_old_bytes_stay_and_the_new_wiring_is_kept(style: str, seed: int, tmp_path: Path) -> None:
    spec = random_spec(random.Random(seed))
    if style == "first":
        spec = {"rewire": "1", "wirings": spec["wirings"], **spec}
    if style in CAUTIONS:
        spec["cautions"] = CAUTIONS[style]
    flow = True if style == "flow" else False if style == "cautions" else None
    text = yaml.safe_dump(spec, sort_keys=False, default_flow_style=flow)
    text = "# a note on top\n" + text.replace("title: random", "title: random  # kept: 08, no")
    if style == "flow":
        text = yaml.safe_dump(spec, sort_keys=False, default_flow_style=True)
    file = tmp_path / "odd.yaml"
    before = styled(text, style)
    file.write_bytes(before)
    form = spec["wirings"]["original"]["parts"]["S"]["switch"]
    form = {"SPDT": "3PDT", "SP3T": "2P3T", "DPDT": "3PDT", "2P3T": "3P3T"}[form]
    words = ["fit", str(file), "--replace", "S", "--switch", form, "--write", "as fitted"]
    result = CliRunner().invoke(rewire, words)
    assert result.exit_code == (3 if "FITS IF" in result.output else 0), result.output
    after = file.read_bytes()
    assert compare(read_spec(file), ["as fitted"])[0].verdict == "kept"
    assert all_of(before, after)
    told = read_spec(file).cautions
    assert list(told[: len(CAUTIONS.get(style, []))]) == CAUTIONS.get(style, [])
    buzz = [said for said in told if "is right only if pole" in said]
    assert len(buzz) == (result.exit_code == 3)
    if style == "crlf":
        assert b"\n" not in after.replace(b"\r\n", b"")
