"""What is said over and under the drawing of a circuit."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from rewire.draw.measure import descent_mm, line_mm, text_at, visible, wrap
from rewire.draw.scene import Text
from rewire.values.network import Network
from rewire.words.quantity import in_ohms, with_unit

TITLE = 11.0
SMALL = 7.5
_OFF_SCALE = 1.05


def title_of(network: Network) -> str:
    """Wiring, reading, position and full scale."""
    at = ", ".join(f"{control} at {position}" for control, position in network.state.items())
    reading = network.reading
    full = with_unit(reading.full_scale, "A" if reading.quantity == "current" else "V")
    said = [f"{network.wiring}: {reading.name}", at, f"full scale {full}"]
    return ", ".join(one for one in said if one)


def caption_of(network: Network) -> Iterator[str]:
    """Where the pointer stands at full scale, and what else is to be known."""
    yield from _pointer(network)
    for drive in network.apart:
        one, other = drive.places
        yield (
            f"{with_unit(drive.amps, 'A')} flow from {one} to {other} as well, "
            "through nothing that is drawn here."
        )
    if network.reading.ac:
        yield "AC: rms values, resistances alone."
    if network.why:
        yield f"{network.why[0].upper()}{network.why[1:]}."


def _pointer(network: Network) -> Iterator[str]:
    one, other = network.reading.places
    full = with_unit(
        network.reading.full_scale, "A" if network.reading.quantity == "current" else "V"
    )
    if network.deflection is not None:
        percent = f"{100.0 * network.deflection:.2f}".rstrip("0").rstrip(".")
        beyond = ", beyond its end" if network.deflection > _OFF_SCALE else ""
        yield (
            f"At {full} from {one} to {other} {network.meter} takes "
            f"{with_unit(network.meter_amps, 'A')} and stands at {percent} % of its scale{beyond}."
        )
    if network.insertion_ohms is not None:
        yield f"Between the two places the set sees {in_ohms(network.insertion_ohms)}."
    if network.deflection is not None and network.deflection < -1e-9:
        yield "The current goes through the meter from − to +."


def lines_down(said: Sequence[tuple[str, float, bool]], width: float) -> tuple[list[Text], float]:
    """Lines of text one under another, wrapped, and the height they take, mm.

    Args:
        said: each with its size in points, and whether it is bold.
        width: room, mm.
    """
    texts: list[Text] = []
    y = 0.0
    for text, points, bold in said:
        for line in wrap(visible(text), width, points, bold):
            y += line_mm(points)
            texts.append(text_at(line, 0.0, y - descent_mm(points), points, bold=bold))
    return texts, y
