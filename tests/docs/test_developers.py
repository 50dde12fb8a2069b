"""DEVELOPERS.md and the other pages name files, folders and commands that are there."""

from __future__ import annotations

import re
from pathlib import Path

import pytest

ROOT = Path(__file__).parents[2]
HOUSE = ROOT / "DEVELOPERS.md"
PAGES = [HOUSE, ROOT / "README.md", *sorted((ROOT / "docs").glob("*.md"))]
PLACE = re.compile(r"(?<![~/\w])(?:rewire|tests|docs|specs|gallery|\.ci)/[\w./-]*[\w]")


@pytest.mark.parametrize("page", PAGES, ids=lambda page: page.name)
def test_every_place_that_is_named_is_there(page: Path) -> None:
    named = set(PLACE.findall(page.read_text("utf-8")))
    missing = sorted(name for name in named if not (ROOT / name).exists())
    assert missing == [], f"{page.name} names what is not there"


@pytest.mark.parametrize("page", PAGES, ids=lambda page: page.name)
def test_every_link_leads_somewhere(page: Path) -> None:
    for link in re.findall(r"\]\(([^)#\s]+)(?:#[\w-]*)?\)", page.read_text("utf-8")):
        assert (page.parent / link).exists(), f"{page.name}: {link}"


def test_the_commands_for_everything_are_targets_of_the_makefile() -> None:
    targets = set(re.findall(r"^([a-z]+):", (ROOT / "Makefile").read_text("utf-8"), re.M))
    asked = {
        name for page in PAGES for name in re.findall(r"`make ([a-z]+)", page.read_text("utf-8"))
    }
    assert asked <= targets, asked - targets
    table = HOUSE.read_text("utf-8")
    assert all(f"`make {name}`" in table for name in targets - {"browser", "simulator"})


def test_every_floor_of_the_house_is_in_the_table() -> None:
    table = HOUSE.read_text("utf-8")
    floors = {path.parent.name for path in (ROOT / "rewire").glob("*/__init__.py")}
    missing = sorted(floor for floor in floors if f"| `rewire/{floor}` |" not in table)
    assert missing == [], f"DEVELOPERS.md says nothing of {missing}"
    views = {path.parent.name for path in (ROOT / "rewire" / "draw").glob("*/__init__.py")}
    assert all(f"`{view}`" in table for view in views), views


def test_what_is_to_be_touched_for_a_new_thing_has_the_names_that_are_told() -> None:
    """`NAME` (`file`) in DEVELOPERS.md: the file says NAME."""
    told = re.findall(r"`(\w+)`\s+\(`?(rewire/[\w/.]+?)`?\)", HOUSE.read_text("utf-8"))
    assert len(told) >= 8
    for name, place in told:
        assert re.search(rf"\b{name}\b", (ROOT / place).read_text("utf-8")), f"{name} in {place}"
