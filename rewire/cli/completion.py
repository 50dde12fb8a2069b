"""What the shell's tab key completes: names out of the specs that stand on the line already."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence

import click
from click.shell_completion import CompletionItem

Complete = Callable[[click.Context, click.Parameter, str], list[CompletionItem]]
_LONGEST = 60
"""Longer names are left to be typed."""


def names_of(what: str) -> Complete:
    """The names of ``wirings``, ``readings``, ``parts`` or ``switches``, for one option.

    A spec that is half written gives what it has; one that cannot be read gives none.
    """

    def complete(
        ctx: click.Context, param: click.Parameter, incomplete: str
    ) -> list[CompletionItem]:
        given = ctx.params.get(param.name or "") or ()
        taken = {*given} if isinstance(given, Sequence) and not isinstance(given, str) else set()
        names = (name for file in _specs(ctx) for name in _names(file, what))
        return [
            CompletionItem(name)
            for name in dict.fromkeys(names)
            if name.startswith(incomplete) and name not in taken
        ]

    return complete


def _specs(ctx: click.Context) -> tuple[str, ...]:
    """The specs on the line; standard input is for the program, not for the tab key."""
    named = ctx.params.get("specs") or ctx.params.get("spec_file") or ()
    files = [named] if isinstance(named, str) else [*named]
    # While an option still lacks its value, click leaves the arguments before it unread.
    return tuple(file for file in [*files, *ctx.args] if not file.startswith("-"))


def _names(file: str, what: str) -> Iterator[str]:
    from rewire.reading.faults import Report, SpecError
    from rewire.reading.text import Mapping, bytes_of, node_at, tree_of

    try:
        tree = tree_of(bytes_of(file, "the spec"), Report(file))
    except SpecError:  # nothing to complete; the command itself will say what is wrong
        return
    lists = [("wirings", name) for name in getattr(node_at(tree, "wirings")[0], "entries", ())]
    within = {"wirings": [()], "readings": [()]}.get(what, [(), *lists])
    key = "parts" if what == "switches" else what
    for path in within:
        holder = node_at(tree, *path)[0]
        found = holder.entries.get(key) if isinstance(holder, Mapping) else None
        for name, part in found.entries.items() if isinstance(found, Mapping) else ():
            is_switch = isinstance(part, Mapping) and "switch" in part.entries
            if len(name) <= _LONGEST and name.isprintable() and (is_switch or what != "switches"):
                yield name
