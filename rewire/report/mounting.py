"""Whether a new switch or meter goes into the panel: in words and for machines."""

from __future__ import annotations

from collections.abc import Iterator

from rewire.compare.mounting import Misfit, Mounting, Pointing
from rewire.report.machine import JSON, Keys, as_json
from rewire.report.section import Tone, Words

_KEYS: Keys = {
    Mounting: "part old misfits pointing unknown",
    Misfit: "kind message grave",
    Pointing: "position legend_degrees=legend knob_degrees=knob",
}


def mounting_words(mounting: Mounting | None) -> Iterator[Words]:
    """What is to be done to the panel and the knob, the worst first, and what to measure."""
    if mounting is None:
        return
    for tone, mark, said in _told(mounting):
        yield Words(f"{mounting.part} for {mounting.old}: {said}", mark, tone=tone, indent=2)


def mounting_said(mounting: Mounting) -> Iterator[str]:
    """The same as sentences, under a heading that names the two parts."""
    yield from (f"{said[0].upper()}{said[1:]}." for _, _, said in _told(mounting))


def _told(mounting: Mounting) -> Iterator[tuple[Tone, str, str]]:
    for misfit in sorted(mounting.misfits, key=lambda one: not one.grave):
        yield ("bad" if misfit.grave else "meant"), "!", misfit.message
    if not mounting.misfits and not mounting.unknown:
        yield "good", "✓", "goes into the panel as it is"
    if mounting.not_given:
        yield "plain", "-", mounting.not_given


def mounting_as_json(mounting: Mounting | None) -> JSON | None:
    """For machines; degrees clockwise from twelve."""
    return None if mounting is None else as_json(mounting, _KEYS)
