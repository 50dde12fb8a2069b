"""docs/commands/ says what the program's own help says."""

from __future__ import annotations

import click
import pytest

from rewire.cli import rewire
from rewire.cli.commands import HELP
from tests.docs.pages import HOW, PAGES, index, page


@pytest.mark.parametrize("name", list(HELP))
def test_page_is_the_commands_help(name: str) -> None:
    place = PAGES / f"{name}.md"
    assert place.exists(), f"docs/commands/{name}.md is missing: {HOW}"
    same = place.read_text("utf-8") == page(name)
    assert same, f"docs/commands/{name}.md is not what `rewire {name} --help` says now: {HOW}"


def test_every_command_is_listed_and_no_other() -> None:
    assert (PAGES / "README.md").read_text("utf-8") == index(), f"docs/commands/README.md: {HOW}"
    there = {place.stem for place in PAGES.glob("*.md")} - {"README"}
    assert there == set(HELP), f"docs/commands/ and the commands do not agree: {HOW}"


def test_every_option_of_a_command_is_on_its_page() -> None:
    """By the command's own parameters, not by the text that click makes of them."""
    top = click.Context(rewire, info_name="rewire")
    for name in HELP:
        told = (PAGES / f"{name}.md").read_text("utf-8")
        command = rewire.get_command(top, name)
        assert command is not None
        for parameter in command.params:
            for option in parameter.opts if isinstance(parameter, click.Option) else ():
                assert option in told, f"{option} is not in docs/commands/{name}.md: {HOW}"
