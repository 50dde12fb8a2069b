"""Options and arguments that commands share, and what the shell's tab key completes for them."""

from __future__ import annotations

import math
from collections.abc import Callable, Iterator, Sequence
from functools import partial
from pathlib import Path
from typing import TYPE_CHECKING, Any, Literal

import click
from click.shell_completion import CompletionItem

from rewire.words.wording import nearest, shown

if TYPE_CHECKING:
    from rewire.words.quantity import Measure

Decorator = Callable[[Callable[..., None]], Callable[..., None]]
Paper = Literal["a4", "letter"]
ALL = "all"
ONE = "--output names one file: give one"
_FEW = 3
_LONGEST = 60
"""Longer names are left to be typed."""


class Number(click.ParamType[float]):
    """A number from ``least`` to ``most``; a whole one unless ``least`` has a decimal point."""

    name = "number"

    def __init__(self, least: float, most: float | None = None) -> None:
        self.least, self.most = least, most

    def convert(self, value: Any, param: click.Parameter | None, ctx: click.Context | None) -> Any:
        """The number, or a refusal that says what is wanted."""
        kind = type(self.least)
        try:
            number = kind(value)
        except ValueError:
            number = math.nan
        if not math.isfinite(number) or not self.least <= number <= (self.most or number):
            above = f"to {self.most:,.0f}" if self.most else "or more"
            what = "a whole number" if kind is int else "a number"
            said = f"{shown(value)} is no such number; write {what}, {self.least:g} {above}."
            self.fail(said, param, ctx)
        return number


def number_option(
    name: str, metavar: str, limits: tuple[float, ...], what: str, default: Any = None
) -> Decorator:
    """An option that takes a number; ``limits`` are the least and, if there is one, the most."""
    shown = default is not None and not callable(default)
    kind = Number(*limits)
    return click.option(
        name, metavar=metavar, type=kind, default=default, show_default=shown, help=what
    )


def quantity_of(text: str, measure: Measure, option: str) -> float:
    """A quantity as it was typed.

    Raises:
        click.UsageError: it is not one; the message says what is.
    """
    from rewire.words.quantity import BadQuantity, read

    try:
        return read(text, measure)
    except BadQuantity as error:
        raise click.UsageError(f"{option}: {error.message}; {error.hint}") from None


def flag_option(name: str, what: str) -> Decorator:
    """An option that is given or not; ``what`` is its help."""
    return click.option(name, is_flag=True, help=what)


def text_option(name: str, metavar: str, what: str, default: str | None = None) -> Decorator:
    """An option that takes text."""
    shown = default is not None
    return click.option(name, metavar=metavar, default=default, show_default=shown, help=what)


def file_option(names: str, metavar: str, what: str) -> Decorator:
    """An option that names a file; ``names`` are its own, blanks between."""
    path = click.Path(readable=False, path_type=Path)
    return click.option(*names.split(), metavar=metavar, type=path, help=what)


def choice_option(names: str, words: Sequence[str], what: str) -> Decorator:
    """An option that takes one of some words, the first where it is not given."""
    kind, first = click.Choice(words), words[0]
    return click.option(*names.split(), type=kind, default=first, show_default=True, help=what)


def words_option(names: str, known: Sequence[str], what: str) -> Decorator:
    """An option that takes some of the known words, commas between."""
    checked = partial(_words, known)
    return click.option(*names.split(), metavar="LIST", callback=checked, help=what)


def named(option: str, word: str, what: str) -> Decorator:
    """An option that takes names out of the spec, ``word`` says of what; it may be given again."""
    return click.option(
        option, word, metavar="NAME", multiple=True, help=what, shell_complete=names_of(word)
    )


def one_name(names: str, word: str, metavar: str, what: str) -> Decorator:
    """An option that takes one name out of the spec."""
    return click.option(*names.split(), metavar=metavar, help=what, shell_complete=names_of(word))


def all_of(*options: Decorator) -> Decorator:
    """Several options as one, in the order of the help."""

    def added(command: Callable[..., None]) -> Callable[..., None]:
        for option in reversed(options):
            command = option(command)
        return command

    return added


specs_argument = click.argument(
    "specs", metavar="SPEC...", nargs=-1, required=True, type=click.Path(readable=False)
)
json_option = click.option(
    "--json", "as_json", is_flag=True, help="Print JSON instead of the report."
)
json_of_files = click.option(
    "--json", "as_json", is_flag=True, help="Print what was written as JSON."
)
paper_option = choice_option("--paper", ["a4", "letter"], "Make the pages for this paper.")
force_option = flag_option("--force", "Replace a file even if rewire did not make it.")


def _words(
    known: Sequence[str], ctx: click.Context, param: click.Parameter, said: str | None
) -> tuple[str, ...]:
    words = [word.strip() for word in (said or "").split(",") if word.strip()]
    for word in words:
        if word not in known:
            close, all_words = nearest(word, known), f"There are: {', '.join(known)}."
            few = "" if len(known) > _FEW else f" {all_words}"
            hint = f"Did you mean {close}?{few}" if close else all_words
            raise click.BadParameter(f"{shown(word)} is not known. {hint}", ctx, param)
    if said is not None and not words:
        raise click.BadParameter(f"a list is wanted: {', '.join(known)}.", ctx, param)
    return tuple(word for word in known if word in words)


Complete = Callable[[click.Context, click.Parameter, str], list[CompletionItem]]


def names_of(what: str) -> Complete:
    """The ``wirings``, ``readings`` or ``switches`` of the specs on the line, for one option.

    A spec that is half written gives what it has; one that cannot be read gives none.
    """

    def complete(
        ctx: click.Context, param: click.Parameter, incomplete: str
    ) -> list[CompletionItem]:
        given = ctx.params.get(param.name or "") or ()
        taken = () if isinstance(given, str) else given
        names = dict.fromkeys(name for file in _specs(ctx) for name in _names(file, what))
        fitting = (name for name in names if name.startswith(incomplete) and name not in taken)
        return [CompletionItem(name) for name in fitting]

    return complete


def _specs(ctx: click.Context) -> Iterator[str]:
    """The specs on the line; standard input is for the program, not for the tab key."""
    named = ctx.params.get("specs") or ctx.params.get("spec_file") or ()
    files = [named] if isinstance(named, str) else [*named]
    # While an option still lacks its value, click leaves the arguments before it unread.
    return (file for file in [*files, *ctx.args] if not file.startswith("-"))


def _names(file: str, what: str) -> Iterator[str]:
    from rewire.reading.faults import Report, SpecError
    from rewire.reading.text import Mapping, bytes_of, node_at, tree_of

    try:
        tree = tree_of(bytes_of(file, "the spec"), Report(file))
    except SpecError:  # nothing to complete: the command itself says what is wrong
        return
    wirings = getattr(node_at(tree, "wirings")[0], "entries", ())
    in_wirings = [("wirings", name) for name in wirings] if what == "switches" else []
    for path in [(), *in_wirings]:
        holder = node_at(tree, *path)[0]
        key = "parts" if what == "switches" else what
        found = holder.entries.get(key) if isinstance(holder, Mapping) else None
        for name, part in found.entries.items() if isinstance(found, Mapping) else ():
            is_switch = isinstance(part, Mapping) and "switch" in part.entries
            if len(name) <= _LONGEST and name.isprintable() and (is_switch or what != "switches"):
                yield name
