"""The first lines of ``rewire values``: good or bad and why, what to fit, where to set."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from math import isfinite

from rewire.cli.terminal import Line, Mark
from rewire.compare.words import listing
from rewire.values.model import Readout, WiringValues

_MOST_NAMED = 4
_LABELS: dict[str, tuple[str, Mark]] = {
    "good": ("GOOD:", "good"),
    "bad": ("BAD:", "bad"),
    "unknown": ("NOT SETTLED:", "bad"),
}


def verdict_lines(result: WiringValues, role: str) -> Iterator[Line]:
    """The answer with its reasons and counts, then the warnings that must not be missed."""
    label, mark = _LABELS[result.answer]
    reasons = [*_faults_of(result), *_right(result), *_unknown(result)] or ["nothing is read"]
    name = f"{result.wiring}{role.rstrip(',')}"
    yield Line(f"{name}: {'; '.join(reasons)}. {_ratings(result)}", 0, label, mark)
    yield from (Line(w.message, 2, "!", "bad") for w in result.warnings if w.first)


def _ratings(result: WiringValues) -> str:
    unrated = result.unrated
    named = f" ({_some(unrated)})" if unrated else ""
    return f"Ratings: {len(result.exceeded)} exceeded, {len(unrated)} unknown{named}."


def _some(names: Sequence[str]) -> str:
    left = len(names) - _MOST_NAMED
    return ", ".join(names[:_MOST_NAMED]) + (f" and {left} more" if left > 0 else "")


def _right(result: WiringValues) -> Iterator[str]:
    """The readings that come out right, if all of them do or the rest is not known."""
    right = [r for r in result.readings if r.deflection is not None and not r.off]
    if result.bad or not right:
        return
    names = listing([r.name for r in right])
    said = f"{names} {'reads' if len(right) == 1 else 'read'} right"
    pots = [pot.part for pot in result.pots if pot.setting_percent is not None]
    if pots:
        said += f" once {listing(pots)} {'is' if len(pots) == 1 else 'are'} set"
    bare = tuple(dict.fromkeys(part for r in right if not r.trimmed_percent for part in r.unstated))
    if bare:
        said += f" by nominal values; worst case not known, no tolerance given for {_some(bare)}"
    yield said


def _unknown(result: WiringValues) -> Iterator[str]:
    unknown = [r.name for r in result.readings if r.unknown]
    if unknown:
        count = f" ({len(unknown)} of {len(result.readings)} readings)"
        yield f"{listing(unknown)} not known{count if len(result.readings) > 1 else ''}"


def _faults_of(result: WiringValues) -> Iterator[str]:
    yield from (_wrong(one) for one in result.readings if one.off)
    unfit = [fit.part for fit in result.fits if fit.exact_ohms is None]
    unfit += [pot.part for pot in result.pots if pot.setting_percent is None]
    if unfit:
        yield f"nothing fits for {listing(unfit)}"
    short = [p.part for p in result.pots if p.setting_percent is not None and p.reaches is False]
    if short:
        yield f"{listing(short)} cannot always reach its setting"
    if result.exceeded:
        yield f"a rating is exceeded at {listing(result.exceeded)}"
    yield from (w.message for w in result.warnings if w.bad and not w.is_rating and not w.first)
    if result.bad_moments:
        yield f"while switching, {result.bad_moments[0].message.rsplit(' (', 1)[0]}"


def _wrong(one: Readout) -> str:
    """What is wrong with a reading that is off."""
    if one.deflection is None or one.error_percent is None:
        return f"{one.name} cannot be read: {one.note}"
    if abs(one.error_percent) > one.accept_percent:
        return f"{one.name} stands at {100 * one.deflection:.4g} % of full scale, not at 100 %"
    most = max(abs(end) for end in one.allowed())
    much = f"{most:.1f} % of full scale off" if isfinite(most) else "off without bound"
    return f"{one.name} may be {much}, more than {one.accept_percent:g} %"
