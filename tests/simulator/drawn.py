"""Figures printed in the circuit pictures: each is carried by something in the circuit."""

import re
from collections.abc import Iterator, Mapping, Sequence
from itertools import combinations, pairwise
from pathlib import Path
from typing import Any
from xml.etree import ElementTree

from tests.simulator.ledger import Ledger
from tests.simulator.quantities import quantity
from tests.simulator.readings import Taken

PRINTED = 6e-4
"""Relative: a figure of four digits, rounded."""
ARROW = re.compile("[→←↑↓]")
"""Between what flows and the volts across it."""
FIGURE = re.compile(r"[0-9.,]+ [nµmkM]?[AV]")


def texts(picture: Path) -> Iterator[str]:
    for item in ElementTree.parse(picture).iter("{http://www.w3.org/2000/svg}text"):
        yield from (piece.strip() for piece in ARROW.split("".join(item.itertext())))


def figures(ledger: Ledger, about: str, one: Taken, picture: Path) -> int:
    """How many amperes and volts stand in the picture; each is asked of the simulator."""
    values = one.rig.nominal
    circuit = one.circuit(values)
    printed = []
    for before, text in pairwise(["", *texts(picture)]):
        if not FIGURE.fullmatch(text):
            continue
        point = one.rig.spec.get("points", {}).get(before)
        if point is None:
            printed.append(text)
        else:  # beside a point's name its volts in the set, as the spec gives them
            given = float(quantity(point["volts"]))
            assert abs(float(quantity(text)) - given) <= PRINTED * abs(given), (before, text)
    for text in printed:
        told = float(quantity(text.replace(",", "")))

        def nearest(
            volts: Sequence[Mapping[str, Any]], text: str = text, told: float = told
        ) -> Any:
            carried = list(_carried(one, circuit, volts[0], text[-1]))
            best = min(carried, key=lambda found: abs(found - told))
            return told if abs(best - told) <= PRINTED * abs(told) else best

        ledger.ask(f"{about} {text}: printed figure", told, [circuit], nearest, 1e-12)
    return len(printed)


def _carried(one: Taken, circuit: Any, volts: Mapping[str, Any], unit: str) -> Iterator[float]:
    """Currents of parts, and sums and differences of two, for contacts; or drops of parts."""
    drops = {n: abs(float(volts[a] - volts[b])) for n, ((a, b), _) in circuit.resistors.items()}
    yield float(one.full_scale)
    if unit == "V":
        yield from drops.values()
        yield from (x + y for x, y in combinations(drops.values(), 2))
        return
    amps = [drop / float(circuit.resistors[name][1]) for name, drop in drops.items()]
    amps += [float(amount) for _, amount in one.drives[int(not one.current) :]]
    yield from amps
    for x, y in combinations(amps, 2):
        yield from (x + y, abs(x - y))
