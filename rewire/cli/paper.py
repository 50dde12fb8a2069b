"""Options that ``rewire draw`` and ``rewire sheet`` share."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from typing import Literal

import click

from rewire.words.wording import nearest, shown

Paper = Literal["a4", "letter"]
ALL = "all"
ONE = "--output names one file: give one"
paper_option = click.option(
    "--paper",
    type=click.Choice(["a4", "letter"]),
    default="a4",
    show_default=True,
    help="Make the pages for this paper.",
)
force_option = click.option(
    "--force", is_flag=True, help="Replace a file even if rewire did not make it."
)


def words_of(known: Sequence[str]) -> Callable[..., tuple[str, ...]]:
    """A list of words of ``known`` with commas between them; empty where it is not given."""

    def checked(ctx: click.Context, param: click.Parameter, text: str | None) -> tuple[str, ...]:
        words = [word.strip() for word in (text or "").split(",") if word.strip()]
        for word in words:
            if word not in known:
                close = nearest(word, known)
                hint = f"Did you mean {close}?" if close else f"There are: {', '.join(known)}."
                raise click.BadParameter(f"{shown(word)} is not known. {hint}", ctx, param)
        if text is not None and not words:
            raise click.BadParameter(f"a list is wanted: {', '.join(known)}.", ctx, param)
        return tuple(word for word in known if word in words)

    return checked
