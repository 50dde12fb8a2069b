"""Random rigs: a meter, a switch, shunts, multipliers and pots, wired as somebody might.

Each has its original and wirings in which one or two things were changed. All that is written is
within the words of a spec; values are round and tolerances stated.
"""

import random
from pathlib import Path
from typing import Any

import yaml

TENS = (1.0, 1.2, 1.5, 1.8, 2.2, 2.7, 3.3, 3.9, 4.7, 5.6, 6.8, 8.2)  # E12 of IEC 60063
SPREADS = ("0.5 %", "1 %", "2 %", "5 %", "10 %")
METERS = ("50 uA", "100 uA", "200 uA", "500 uA", "1 mA", "5 mA", "50 mV")


class Maker:
    """One rig in the making."""

    def __init__(self, seed: int) -> None:
        self.dice = random.Random(seed)
        self.at = [f"P{n}" for n in range(1, self.dice.randint(2, 4) + 1)]
        self.positions = ["W", "X", "Y", "Z"][: self.dice.randint(2, 4)]
        self.parts: dict[str, Any] = {}
        self.wires: list[list[str]] = []
        self.readings: dict[str, Any] = {}
        self.rules: list[Any] = []
        self.points: dict[str, Any] = {"CH": {"chassis": "yes"}}

    def ohms(self, low: int, high: int) -> str:
        power = self.dice.randint(low, high)
        return f"{self.dice.choice(TENS) * 10.0**power:.6g} ohm"

    def resistor(self, low: int, high: int) -> dict[str, Any]:
        written = self.ohms(low, high)
        if self.dice.random() < 0.2:
            sign = self.dice.choice(["+", "||"])
            written = f"{written} {sign} {self.ohms(low, high)}"
        made = {"resistor": written, "tolerance": self.dice.choice(SPREADS)}
        if self.dice.random() < 0.5:
            made |= {"rating": self.dice.choice(["0.25 W", "0.5 W", "2 W"])}
        return made

    def name(self, letter: str) -> str:
        count = sum(1 for name in self.parts if name.rstrip("0123456789") == letter)
        return f"{letter}{count + 1}"

    def put(self, letter: str, part: dict[str, Any], one: str, other: str) -> str:
        """A part of two ends between two places."""
        name = self.name(letter)
        self.parts[name] = part
        ends = ("ccw", "wiper") if letter == "RV" else ("1", "2")
        self.wires += [[f"{name}.{ends[0]}", one], [f"{name}.{ends[1]}", other]]
        return name

    def leads(self, lug: str) -> str:
        """What stands in the meter's lead: nothing, a fuse, a pot as a variable resistor."""
        chance = self.dice.random()
        if chance < 0.15:
            fuse = {"fuse": "1 A", "resistance": self.ohms(-1, 1)}
            return self.through("F", fuse, lug)
        if chance < 0.4:
            setting = f"{self.dice.randint(5, 95)} %"
            pot = {"pot": self.ohms(1, 2), "setting": setting, "tolerance": "10 %"}
            end = self.through("RV", pot, lug)
            if self.dice.random() < 0.6:
                name = end.split(".")[0]
                self.wires.append([f"{name}.wiper", f"{name}.cw"])
            return end
        return lug

    def through(self, letter: str, part: dict[str, Any], lug: str) -> str:
        name = self.name(letter)
        self.parts[name] = part
        ends = ("ccw", "wiper") if letter == "RV" else ("1", "2")
        self.wires.append([f"{name}.{ends[0]}", lug])
        return f"{name}.{ends[1]}"

    def switch(self) -> None:
        timing = self.dice.choice(["non-shorting", "shorting"])
        form = f"2P{len(self.positions)}T"
        self.parts["S1"] = {"switch": form, "control": "K", "style": "rotary", "timing": timing}
        self.contacts()
        self.parts["M1"] = {
            "meter": self.dice.choice(METERS),
            "resistance": self.ohms(1, 3),
            "resistance_tolerance": self.dice.choice(SPREADS),
            "accuracy": "2 %",
        }
        self.wires += [[self.leads("S1.A"), "M1.+"], ["S1.B", "M1.-"]]
        if self.dice.random() < 0.2:
            self.put("R", self.resistor(2, 4), "M1.+", "M1.-")

    def position(self, number: int) -> None:
        """One position: a current over a shunt, or a voltage over a multiplier."""
        place, back = self.dice.choice(self.at), self.dice.choice(["CH", *self.at])
        back = back if back != place else "CH"
        hot, cold = f"S1.A{number}", f"S1.B{number}"
        state = {"K": self.positions[number - 1]}
        name = f"r{number}"
        self.wires.append([cold, back])
        if self.dice.random() < 0.5:
            self.put("R", self.resistor(-1, 2), place, back)
            if self.dice.random() < 0.7:
                self.put("R", self.resistor(1, 3), place, hot)
            else:
                self.wires.append([place, hot])
            scale = f"{self.dice.choice([1, 2, 5])}{self.dice.choice(['', '0'])} mA"
            self.readings[name] = {"when": state, "current": [place, back], "full_scale": scale}
        else:
            self.put("R", self.resistor(3, 5), place, hot)
            if self.dice.random() < 0.4:
                self.put("R", self.resistor(1, 3), hot, cold)
            scale = f"{self.dice.choice([5, 20, 100, 300])} V"
            self.readings[name] = {"when": state, "voltage": [place, back], "full_scale": scale}
            if self.dice.random() < 0.3:
                self.readings[name]["source_resistance"] = self.ohms(1, 4)
        self.standing(name)

    def standing(self, reading: str) -> None:
        """No standing currents here."""

    def contacts(self) -> None:
        """Contacts of no stated resistance here."""

    def further(self) -> None:
        """Resistors across the set, capacitors and diodes that carry nothing, rules."""
        places = ["CH", *self.at, "M1.+", "M1.-", "S1.A1", "S1.B2"]
        for _ in range(self.dice.randint(0, 3)):
            self.put("R", self.resistor(2, 5), *self.dice.sample(places, 2))
        if self.dice.random() < 0.3:
            self.put("C", {"capacitor": "1 uF"}, *self.dice.sample(places, 2))
        for place in self.at:
            self.points[place] = {}
            if self.dice.random() < 0.4:
                self.points[place] = {"rises_to": f"{self.dice.choice(['', '-'])}500 V"}
        for _ in range(self.dice.randint(0, 2)):
            pair = self.dice.sample(["CH", *self.at], 2)
            if self.dice.random() < 0.5:
                self.rules.append({"connect": pair, "within": self.ohms(1, 4)})
            else:
                self.rules.append({"isolate": pair, "beyond": self.ohms(1, 4)})

    def varied(self) -> dict[str, Any]:
        """The original with one or two things changed: a wire, a value, an exchange."""
        parts = {name: dict(part) for name, part in self.parts.items()}
        wires = [list(wire) for wire in self.wires]
        for _ in range(self.dice.randint(1, 2)):
            kind = self.dice.choice(["off", "moved", "value", "exchange", "jumper"])
            wire = self.dice.choice(wires)
            if kind == "off":
                wires.remove(wire)
            elif kind == "moved":
                wire[1] = self.dice.choice(["CH", *self.at, "M1.+", "M1.-"])
            elif kind == "exchange":
                other = self.dice.choice(wires)
                wire[1], other[1] = other[1], wire[1]
            elif kind == "jumper":
                wires.append(self.dice.sample([end for wire in wires for end in wire], 2))
            else:
                name = self.dice.choice([n for n, part in parts.items() if "resistor" in part])
                parts[name] |= {"resistor": self.ohms(0, 4)}
        return {"parts": parts, "wires": [w for w in wires if w[0] != w[1]]}

    def fitted(self) -> dict[str, Any]:
        """The original with one resistor left open for the reading whose place it serves."""
        parts = {name: dict(part) for name, part in self.parts.items()}
        ends = {f"S1.A{n}": f"r{n}" for n in range(1, len(self.positions) + 1)}
        serve = [(w[0].split(".")[0], ends[w[1]]) for w in self.wires if w[1] in ends]
        serve = [pair for pair in serve if "resistor" in parts.get(pair[0], {})]
        for name, reading in serve[: self.dice.randint(1, 2)]:
            if all(part.get("for") != reading for part in parts.values()):
                tolerance = parts[name].get("tolerance", "1 %")
                chosen = self.dice.choice(["exact", "E96", "E24"])
                parts[name] = {"resistor": "fit", "for": reading, "choose": chosen}
                parts[name] |= {"tolerance": tolerance}
        return {"parts": parts, "wires": self.wires}

    def spec(self) -> dict[str, Any]:
        self.switch()
        for number in range(1, len(self.positions) + 1):
            self.position(number)
        self.further()
        return {
            "rewire": "1",
            "title": "A rig made by dice",
            "controls": {"K": self.positions},
            "points": self.points,
            "readings": self.readings,
            "rules": self.rules,
            "bench": {"series_resistor": "100 ohm", "rating": "10 W"},
            "wirings": {
                "original": {"parts": self.parts, "wires": self.wires},
                "one": self.varied(),
                "two": self.varied(),
                "fitted": self.fitted(),
            },
        }


class Fuller(Maker):
    """The same with standing currents and stated contacts, wherever dice put them."""

    def standing(self, reading: str) -> None:
        if self.dice.random() < 0.4:
            amount = f"{self.dice.choice([0.5, 2, 6])} mA"
            one, two = self.dice.sample(["CH", *self.at], 2)
            self.readings[reading]["also"] = [{"current": [one, two], "amount": amount}]

    def contacts(self) -> None:
        if self.dice.random() < 0.3:
            self.parts["S1"]["contact_resistance"] = "15 mohm"


def write(folder: Path, maker: type[Maker], seeds: range) -> list[Path]:
    """A spec for every seed."""
    files = []
    for seed in seeds:
        file = folder / f"{maker.__name__}-{seed}.yaml".lower()
        file.write_text(yaml.safe_dump(maker(seed).spec(), sort_keys=False), encoding="utf-8")
        files.append(file)
    return files
