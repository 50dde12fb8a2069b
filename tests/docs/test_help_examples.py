"""What the help of the commands shows runs as it is written."""

from __future__ import annotations

import shlex
from collections.abc import Iterator
from pathlib import Path

import click
import pytest
import yaml
from click.testing import CliRunner

from rewire.cli import rewire

FLAGSHIP = str(Path(__file__).parents[2] / "specs" / "valve-amplifier.yaml")


def commands(group: click.Group, words: tuple[str, ...] = ()) -> Iterator[tuple[str, ...]]:
    """The words of every command that is no group."""
    context = click.Context(group)
    for name in group.list_commands(context):
        command = group.get_command(context, name)
        if isinstance(command, click.Group):
            yield from commands(command, (*words, name))
        else:
            yield (*words, name)


def helped(words: tuple[str, ...]) -> list[str]:
    return CliRunner().invoke(rewire, [*words, "--help"]).stdout.splitlines()


def lines_to_run(words: tuple[str, ...]) -> Iterator[list[str]]:
    """Lines that begin with the program, and lines of options after what they are for."""
    for line in helped(words):
        label, _, options = line.strip().partition(":")
        if line.strip().startswith("rewire "):
            yield shlex.split(line)[1:]
        elif options.strip().startswith("--") and " " in label + options:
            yield [*words, *shlex.split(options)]


def files_shown(words: tuple[str, ...]) -> Iterator[str]:
    """Blocks of YAML, by their first line."""
    text = helped(words)
    for start, line in enumerate(text):
        if line.strip().startswith("rewire_"):
            end = text.index("", start)
            yield "\n".join(text[start:end]) + "\n"


LINES = [tuple(line) for words in commands(rewire) for line in lines_to_run(words)]
FILES = [(words, text) for words in commands(rewire) for text in files_shown(words)]


def test_there_are_examples() -> None:
    """Two of shunt, one of multiplier, four of identify meter; a buzz-out and a log."""
    assert len(LINES) >= 7
    assert {next(iter(yaml.safe_load(text))) for _, text in FILES} == {
        "rewire_bench", "rewire_switch",
    }  # fmt: skip


@pytest.mark.parametrize("line", LINES, ids=" ".join)
def test_a_line_runs_as_written(line: tuple[str, ...]) -> None:
    done = CliRunner().invoke(rewire, line, catch_exceptions=False)
    assert done.exit_code == 0, done.output


@pytest.mark.parametrize(("words", "text"), FILES, ids=lambda one: one[-1] if one else "")
def test_a_file_is_read_as_written(words: tuple[str, ...], text: str, tmp_path: Path) -> None:
    """The log is about the flagship; its reading of 9.1 ohm is judged, whatever it says."""
    file = tmp_path / "example.yaml"
    file.write_text(text, encoding="utf-8")
    args = [*words, FLAGSHIP, "--found", str(file)] if words == ("buzz",) else [*words, str(file)]
    done = CliRunner().invoke(rewire, args, catch_exceptions=False)
    assert done.exit_code in (0, 1), done.output


@pytest.mark.parametrize("words", list(commands(rewire)), ids=" ".join)
def test_every_option_says_what_it_does_in_words_of_its_own(words: tuple[str, ...]) -> None:
    """Two words or more before the brackets, a capital first and a full stop last."""
    group: click.Command = rewire
    for word in words:
        assert isinstance(group, click.Group)
        found = group.get_command(click.Context(group), word)
        assert found is not None
        group = found
    for option in group.params:
        if isinstance(option, click.Option):
            said = (option.help or "").partition("[")[0].strip()
            assert len(said.split()) > 2, option.name
            assert said[0].isupper(), option.name
            assert said.endswith((".", ")")), option.name
            assert not said.startswith(("Of ", "Its ", "Also of")), option.name


def test_what_may_be_waived_is_explained_where_it_is_typed() -> None:
    said = " ".join(" ".join(helped(("fit",))).split())
    for word, meaning in (
        ("gap", "a connection opens for a moment"),
        ("bridge", "two circuits are shorted to each other for a moment"),
        ("interrupt", "the current in a path stops for a moment"),
        ("stray", "current flows for a moment where none should"),
    ):
        assert f"{word} {meaning}" in said
