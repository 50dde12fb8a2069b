"""Which wirings of a spec a command speaks of."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from contextlib import suppress
from dataclasses import dataclass

from rewire.cli.trouble import Complaint, Refused
from rewire.records.spec import Role, Spec
from rewire.words.wording import known_here, nearest, shown


def wirings_asked(spec: Spec, names: Sequence[str]) -> tuple[str, ...]:
    """The wirings named, or every one but the original if none is.

    Raises:
        Refused: a name that is no wiring of the spec, or the original's.
    """
    others = [wiring.name for wiring in spec.others]
    unknown = [name for name in names if name not in others]
    if unknown:
        raise Refused(*(_complaint(spec.file, name, others) for name in unknown))
    return tuple(dict.fromkeys(names or others))


@dataclass(frozen=True, slots=True)
class Judged:
    """Which wirings a command judges, and whose answer is its exit status."""

    names: tuple[str, ...]
    """In the order told: as asked for, else the plans, what was found, what was tried."""
    counting: frozenset[str]
    """Those asked for by name, else the plans: what was found broken is no bad answer."""
    roles: Mapping[str, Role | None]
    """Of every wiring of the spec."""


def judged(spec: Spec, names: Sequence[str]) -> Judged:
    """The wirings named, the original if it is among them, or every one but it if none is.

    An original that stands alone is judged itself: it may break a rule of the spec.

    Raises:
        Refused: a name that is no wiring of the spec.
    """
    check_wirings(spec, names)
    told = tuple(dict.fromkeys(names or [wiring.name for wiring in spec.others] or spec.wirings))
    roles = {name: wiring.role for name, wiring in spec.wirings.items()}
    plans = frozenset(name for name in told if roles[name] in ("plan", None))
    return Judged(told, frozenset(names) or plans, roles)


def check_wirings(spec: Spec, names: Sequence[str]) -> None:
    """See that each name is a wiring of a spec, the original's included.

    Raises:
        Refused: some are not.
    """
    known = list(spec.wirings)
    unknown = [name for name in dict.fromkeys(names) if name not in known]
    if unknown:
        raise Refused(*(_complaint(spec.file, name, known) for name in unknown))


def _complaint(file: str, name: str, others: Sequence[str]) -> Complaint:
    close = nearest(name, others)
    hint = f"nearest is {shown(close)}" if close else known_here(others)
    if name == "original":
        message = "'original' is what the others are compared with, and on every sheet beside them"
        return Complaint(message, file, hint=hint)
    return Complaint(f"no wiring is called {shown(name)}", file, hint=hint)


def broken_ones(spec: Spec, names: Iterable[str]) -> frozenset[str]:
    """Those of some wirings that do not keep what the original does, as far as that is settled.

    A broken rule alone is no such thing while a value has still to be found: it counts as no
    ohms here, and `rewire values` judges the rule with the value that it finds.
    """
    # Loaded here: what is told beside sums and tables is not needed for the help.
    from rewire.circuit import LimitReached
    from rewire.compare import compare
    from rewire.compare.findings import INFORMATION

    found: list[str] = []
    for name in names:
        if name == "original":
            continue
        with suppress(LimitReached):  # `rewire check` names the limit
            (result,) = compare(spec, [name])
            parts = spec.parts_of(spec.wirings[name]).values()
            is_open = any(getattr(part, "fit_for", None) for part in parts)
            bad = {f.kind for f in result.findings if not f.meant and f.kind not in INFORMATION}
            if result.verdict == "broken" and not (is_open and bad == {"rule"}):
                found.append(name)
    return frozenset(found)
