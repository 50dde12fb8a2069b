"""What the plan leaves to be computed: values to fit, and settings of pots."""

from __future__ import annotations

from rewire.circuit import LimitReached
from rewire.records.spec import Spec, Wiring
from rewire.values import values_of


def fitted(spec: Spec, wiring: Wiring) -> dict[str, str]:
    """Part → value or setting in words, for each that the wiring leaves to be fitted.

    A part whose value cannot be found is left out.
    """
    if not any(getattr(part, "fit_for", None) for part in wiring.parts.values()):
        return {}
    try:
        (result,) = values_of(spec, [wiring.name])
    except LimitReached:
        return {}  # `rewire values` says which limit; the list of moves does not hang on it
    found = {fit.part: fit.chosen for fit in result.fits if fit.chosen}
    settings = {
        pot.part: f"{pot.setting_percent:.1f} % of travel from ccw"
        for pot in result.pots
        if pot.setting_percent is not None
    }
    return {**found, **settings}
