"""The hook-up and the circuit of a spec as finished SVGs, beside the plain spec they come from."""

from __future__ import annotations

import json
import random
from collections.abc import Mapping
from dataclasses import dataclass
from functools import cache, cached_property
from pathlib import Path
from typing import Any

import yaml

from rewire.bench.wire_plan import renumbered
from rewire.draw.decks import abreast, decks_drawn
from rewire.draw.hookup import hook_up
from rewire.draw.paint import paint_svg
from rewire.draw.scene import Panel, Scene
from rewire.draw.schematic import schematic
from rewire.reading import read_spec, read_text
from rewire.records.spec import Spec
from tests.draw.readback import Vocabulary, circuit_vocabulary, vocabulary
from tests.reference.strategies import random_spec

SPECS = sorted((Path(__file__).parents[2] / "specs").glob("*.yaml"))
HOOK_UP = (188.0, 90.0)
"""Room of the hook-up on the card, mm."""
DECK = (188.0, 95.0)
"""Room of each deck where the hook-up is drawn deck by deck, mm."""
CIRCUIT = 116.0
"""Width of the circuit on the card, mm."""


@dataclass(frozen=True)
class Drawn:
    """A wiring of a spec, read by the program and by the tests, and its two pictures."""

    spec: Spec
    plain: Mapping[str, Any]
    wiring: str = "substitute"

    @cached_property
    def hook_up(self) -> Panel | None:
        """The hook-up; None where the card has lug views in its place."""
        return hook_up(self.spec, self.spec.wirings[self.wiring], *HOOK_UP)

    @cached_property
    def by_decks(self) -> Panel | None:
        """The hook-up deck by deck, two abreast; None where a deck has a list of its wires."""
        wiring = self.spec.wirings[self.wiring]
        decks = [panel for _, panels in decks_drawn(self.spec, wiring, DECK) for panel in panels]
        listed = any(item.shows.startswith("leader:") for deck in decks for item in deck.items)
        return None if listed else abreast(decks, 2)

    @property
    def on_card(self) -> Panel | None:
        """The hook-up as it is on the card: whole up to 24 wires, beyond deck by deck."""
        return self.hook_up if len(self.spec.wirings[self.wiring].wires) <= 24 else self.by_decks

    @cached_property
    def circuit(self) -> Panel:
        """The circuit; what the spec leaves open stays so."""
        return schematic(self.spec, self.spec.wirings[self.wiring], {}, CIRCUIT)

    @cached_property
    def in_hook_up(self) -> Vocabulary:
        """What the hook-up must hold."""
        wires = self.spec.wirings[self.wiring].wires
        whole = {wire.id: wire.ends for wire in wires if "cut" not in wire.ends}
        return vocabulary(self.plain, self.wiring, whole)

    @cached_property
    def in_circuit(self) -> Vocabulary:
        """What the circuit must hold."""
        return circuit_vocabulary(self.plain, self.wiring)


def svg(panel: Panel) -> str:
    """A picture as it is painted."""
    return paint_svg(Scene(panel.width, panel.height, panel.items)).decode()


@cache
def shipped(path: Path) -> Drawn:
    """The plan of a shipped spec."""
    plain = yaml.load(path.read_text("utf-8"), yaml.BaseLoader)
    return Drawn(renumbered(read_spec(path)), plain)


def at_random(seed: int) -> Drawn:
    """A small spec of odd switches."""
    plain = random_spec(random.Random(seed), seed % 3)
    return Drawn(renumbered(read_text(json.dumps(plain).encode())), plain)
