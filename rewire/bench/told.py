"""Questions of the interview, and answers as people say them: a wire, a part, a difference."""

from __future__ import annotations

import re
from collections.abc import Callable, Collection, Mapping, Sequence
from dataclasses import dataclass, replace
from functools import cache
from importlib import resources
from typing import Any

import yaml

from rewire.bench.by_hand import Block
from rewire.reading.switches import FormSaid, form_said, spoken_form
from rewire.records.keys import ID, LUG, NAME, YES_OR_NO, word
from rewire.records.part import KINDS
from rewire.records.spec import CUT
from rewire.records.switches import read_form
from rewire.words.quantity import without_comma
from rewire.words.wire import colour_said
from rewire.words.wording import Wrong, known_here, listed, listing, shown

_PLACE = re.compile(rf"{NAME}(\.{LUG})?")
_WHOLE_COMMA = re.compile(r"[0-9]+,[0-9]+\S*")
_AMOUNT = re.compile(r"[-+.0-9]")
_IN_OHMS = re.compile(r"([oO]hms?|Ω|[0-9] ?[RkKM][0-9]*)$")
_AC = re.compile(r" ?ac$", re.IGNORECASE)
_BARE = ("bare", "tinned", "-")
VALUES: dict[str, tuple[tuple[str, ...], str, str]] = {
    "meter": (
        ("meter", "resistance", "resistance_tolerance", "accuracy"),
        "full scale, resistance of the coil, its tolerance, accuracy",
        "1 mA, 100 ohm, 2 %, 2 %",
    ),
    "resistor": (("resistor", "tolerance", "rating"), "value, tolerance, watts", "4k7, 5 %, 0.5 W"),
    "pot": (("pot", "tolerance", "rating"), "value, tolerance, watts", "200 ohm, 10 %, 0.5 W"),
    "capacitor": (("capacitor", "rating"), "value, volts", "100 nF, 400 V"),
    "choke": (("choke", "resistance"), "value, its resistance", "10 H, 200 ohm"),
    "diode": (("diode",), "silicon, germanium or a forward voltage", "silicon"),
    "lamp": (("lamp", "current"), "volts, current", "6.3 V, 150 mA"),
    "fuse": (("fuse", "resistance"), "rated current, its resistance", "2 A"),
    "strip": (("strip",), "number of tags", "6"),
}
"""Kind of part → keys of its values in the order told, the same in words, an example."""
_LETTERS = {
    "M": "meter", "R": "resistor", "RV": "pot", "VR": "pot", "P": "pot", "C": "capacitor",
    "L": "choke", "D": "diode", "LP": "lamp", "F": "fuse", "TS": "strip",
}  # fmt: skip
"""Letters of reference → kind (common practice, no source)."""
WAYS = (
    "write: cut S1.C ALARM (a wire cut off at its first end); out S1.C ALARM (taken out); "
    "in S1.B1 EARTH BK (put in); S1 is DP3T, shorting (another switch or value; a timing that is "
    "not told is unknown); "
    "M2 replaces M1: 500 uA, 120 ohm"
)
"""How differences are told."""
CAUTION = (
    "Before a probe goes on anything: plug out, batteries off, capacitors discharged through a "
    "resistor, and all of that proved with a meter. Capacitors keep their charge."
)


def answered(text: str) -> str:
    """An answer that may not be empty."""
    if not text:
        raise Wrong("an answer is needed here", "'?' says more, 'back' takes the last answer back")
    return text


def name_for(position: str) -> str:
    """The name of a reading, from the position that it is taken in.

    >>> name_for("HT 1"), name_for("1.5 A")
    ('ht_1', 'at_1_5_a')
    """
    name = re.sub(r"[^A-Za-z0-9_-]", "_", position.lower())
    return name if re.match(r"[a-z]", name) else f"at_{name}"


def name_told(text: str) -> str:
    """A name, or nothing."""
    return str(ID.read(text)) if text else ""


def pieces_told(text: str) -> list[str]:
    """What stands between commas, without a comma inside a number."""
    comma = _WHOLE_COMMA.search(text)
    if comma is not None:
        message = f"{shown(comma[0])} has a comma in the number"
        raise Wrong(message, f"{without_comma(comma[0])}; put a space after a comma between two")
    return [piece.strip() for piece in text.split(",")]


def words_told(text: str) -> list[str]:
    """Names with commas or blanks between them."""
    return answered(text).replace(",", " ").split()


def positions_told(text: str) -> list[str]:
    """Positions with commas between them; with blanks, where there is no comma."""
    return [one for one in pieces_told(text) if one] if "," in text else words_told(text)


def kind_by_letter(name: str) -> str:
    """The kind that the letters of a reference mean; empty where they mean none."""
    match = re.fullmatch(r"([A-Z]+)[0-9]+[A-Z]?", name)
    return _LETTERS.get(match[1], "") if match else ""


def place_told(text: str) -> str:
    """A point, a lug, or ``cut``."""
    place = text.replace("\N{MINUS SIGN}", "-").replace("\N{EN DASH}", "-")
    if _PLACE.fullmatch(place) is None:
        hint = "write one such as EARTH, R3.1 or M1.+"
        raise Wrong(f"{shown(text)} is no point and no lug", hint)
    kind = kind_by_letter(place)
    if kind and "." not in place:
        lugs = " or ".join(f"{place}.{lug}" for lug in KINDS[kind].lugs or ("1", "2"))
        raise Wrong(f"{shown(place)} is a part, and has lugs", f"write {lugs}, new here or not")
    return place


def wire_told(text: str) -> tuple[str, str] | None:
    """Where a wire goes, and its colour or nothing; None for no wire.

    >>> wire_told("RD M1.+"), wire_told("EARTH"), wire_told("bare S1.C2")
    (('M1.+', 'RD'), ('EARTH', ''), ('S1.C2', ''))
    """
    words = text.replace(",", " ").split()
    if len(words) > 2:
        raise Wrong(f"{shown(text)} is more than a colour and where it goes", "one wire a line")
    if len(words) < 2:
        return (place_told(words[0]), "") if words else None
    first, last = words if _is_colour(words[0]) or not _is_colour(words[1]) else words[::-1]
    return place_told(last), "" if first.lower() in _BARE else colour_said(first)


def _is_colour(word: str) -> bool:
    try:
        return word.lower() in _BARE or bool(colour_said(word))
    except Wrong:
        return False


def values_told(kind: str, text: str) -> dict[str, str]:
    """The values of a part, by their keys; of another kind, if the answer begins with one.

    >>> values_told("resistor", "59.9 kohm, 1 %")
    {'resistor': '59.9 kohm', 'tolerance': '1 %'}
    >>> values_told("resistor", "lamp: 6.3 V")
    {'lamp': '6.3 V'}
    """
    first, colon, rest = text.partition(":")
    if colon and first.strip().lower() in VALUES:
        return values_told(first.strip().lower(), rest.strip())
    keys, names, _ = VALUES[kind]
    told = pieces_told(answered(text))
    if len(told) > len(keys):
        raise Wrong(f"{len(told)} values are told", f"the order is: {names}")
    values = {key: value for key, value in zip(keys, told, strict=False) if value or key == kind}
    return values | ({"resistance": values.get("resistance", "unknown")} if kind == "meter" else {})


def point_told(text: str) -> dict[str, str]:
    """What is known of a point: volts, what it rises to, source resistance, where it is.

    >>> point_told("52 V, 58 V, 0.05 ohm, busbar")
    {'volts': '52 V', 'rises_to': '58 V', 'source_resistance': '0.05 ohm', 'where': 'busbar'}
    """
    told = [piece for piece in (pieces_told(text) if text else []) if piece]
    amounts = [piece for piece in told if _AMOUNT.match(piece.replace("\N{MINUS SIGN}", "-"))]
    ohms = [piece for piece in amounts if _IN_OHMS.search(piece)]
    volts = [piece for piece in amounts if piece not in ohms]
    if len(volts) > 2 or len(ohms) > 1:
        message = f"{shown(text)} is more than two voltages and a resistance"
        raise Wrong(message, "write 52 V, 58 V, 2k2, tag 3")
    found = dict(zip(("volts", "rises_to"), (_AC.sub("", one) for one in volts), strict=False))
    found["ac"] = "yes" if any(re.search(r"V ?ac$", one, re.IGNORECASE) for one in volts) else ""
    found["source_resistance"] = "".join(ohms)
    found["where"] = ", ".join(piece for piece in told if piece not in amounts)
    return {key: value for key, value in found.items() if value}


def switch_told(text: str) -> FormSaid | None:
    """The form of a switch and what is said of it; None for: lug by lug, with the ohmmeter."""
    if answered(text).lower().startswith("ohm"):
        return None
    meant = FormSaid(text.upper()) if read_form(text.upper()) else form_said(text)
    if meant is None:
        hint = spoken_form(text) or "write poles and throws (3P3T, 2 pole 6 way), or: ohmmeter"
        raise Wrong(f"{shown(text)} is not a switch form", hint)
    return meant


def throws_told(count: int, text: str) -> list[str]:
    """A throw, or open, for each position."""
    told = words_told(text)
    if len(told) != count:
        raise Wrong(f"{len(told)} are told, {count} are needed", "write 1, open, 2 and the like")
    return told


def timing_told(text: str) -> str | dict[str, str]:
    """A timing, or one for each pole.

    >>> timing_told("shorting"), timing_told("A non-shorting, C shorting")
    ('shorting', {'A': 'non-shorting', 'C': 'shorting'})
    """
    pairs = [piece.replace(":", " ").split() for piece in text.split(",") if piece.strip()]
    return dict(pairs) if all(len(pair) == 2 for pair in pairs) else text


def groups_told(text: str) -> list[list[str]]:
    """Lugs that go together, blanks between them and commas between the groups."""
    groups = [piece.split() for piece in text.split(",") if piece.strip()]
    alone = next((group for group in groups if len(group) < 2), None)
    if alone is not None:
        raise Wrong(f"{shown(alone[0])} stands alone", "write lugs that go together: 1 2, 4 5")
    return groups


def lugs_told(poles: int, throws: int, text: str) -> list[list[str]]:
    """The numbers of a switch's lugs, pole by pole; nothing for none."""
    rows = groups_told(text)
    if rows and (len(rows) != poles or any(len(row) != throws + 1 for row in rows)):
        given = listing([str(len(row)) for row in rows])
        numbers = [range(n * (throws + 1) + 1, (n + 1) * (throws + 1) + 1) for n in range(poles)]
        said = f"{poles} poles of {throws + 1} lugs each are needed, you gave {given}"
        raise Wrong(said, f"write {', '.join(' '.join(map(str, row)) for row in numbers)}")
    return rows


def part_told(text: str) -> list[str]:
    """A part and its two points; nothing for none."""
    words = text.replace(",", " ").split()
    if len(words) not in (0, 3):
        raise Wrong(f"{shown(text)} is no part and its two points", "write R1 BATTERY LOAD")
    return [*map(name_told, words[:1]), *map(place_told, words[1:])]


def reading_told(text: str) -> tuple[str, list[str]] | None:
    """The kind of a reading and its two places; None for none."""
    words = text.replace(",", " ").split()
    if not words:
        return None
    kind = {"v": "voltage", "c": "current", "a": "current"}.get(words[0][0].lower())
    if kind is None or len(words) != 3:
        raise Wrong(f"{shown(text)} is no reading", "write volts BATTERY EARTH, or current A B")
    return kind, [*map(place_told, words[1:])]


def plan_told(text: str) -> FormSaid:
    """Nothing, ``differences``, or the form of a switch."""
    form = FormSaid(text) if text in ("", "differences") else switch_told(text)
    if form is None:
        hint = "buzz it out into a file, and give that to rewire fit --switch; leave this empty"
        raise Wrong("here a form is needed", hint)
    if form.beside.get("timing", "").startswith("{"):
        hint = (
            "buzz it out into a file, and give that to rewire fit --switch; or leave the timing out"
        )
        raise Wrong("here all poles have one timing", hint)
    return form


@dataclass(frozen=True, slots=True)
class Difference:
    """One difference from the original: what is done, to which end or part, and with what."""

    does: str
    """``in``, ``out``, ``cut`` a wire; ``is``: a part is another one."""
    end: str
    to: str = ""
    colour: str = ""
    name: str = ""
    """Of the part that takes another's place, where it has a new one."""


def difference_told(text: str) -> Difference | None:
    """A difference; None for none.

    >>> difference_told("cut S1.C ALARM")
    Difference(does='cut', end='S1.C', to='ALARM', colour='', name='')
    >>> difference_told("S1 is DP3T")
    Difference(does='is', end='S1', to='DP3T', colour='', name='S1')
    """
    if not text:
        return None
    another = re.fullmatch(rf"({NAME}) (?:is|replaces ({NAME}):?) (.+)", text)
    if another is not None:
        return Difference("is", another[2] or another[1], another[3], name=another[1])
    does, _, rest = text.partition(" ")
    end, _, other = rest.strip().partition(" ")
    wire = wire_told(other)
    if does not in ("in", "out", "cut") or wire is None:
        raise Wrong(f"{shown(text)} is no difference", WAYS)
    return Difference(does, place_told(end), *wire)


# Differences made in a wiring


def differ(block: Block, one: Difference, lugs: Callable[[], Collection[str]]) -> None:
    """Make a difference; ``lugs`` gives the lugs then. ``Wrong`` without such a wire or part."""
    if one.does == "is":
        _replace(block, one)
        block["wires"] = _left(block["wires"], one.name, lugs())
        return
    wires = block["wires"]
    at = next((n for n, wire in enumerate(wires) if {*wire[:2]} == {one.end, one.to}), None)
    if one.does == "in" and at is not None:
        raise Wrong(f"a wire from {one.end} to {one.to} is there already")
    if one.does == "in":
        wires.append([one.end, one.to, one.colour])
    elif at is not None:
        wires[at : at + 1] = [[one.to, CUT, wires[at][2]]] if one.does == "cut" else []
    else:
        there = [a if b == one.end else b for a, b, *_ in wires if one.end in (a, b)]
        hint = f"on {one.end}: {listed(there)}" if there else f"nothing is on {one.end}"
        raise Wrong(f"no wire from {one.end} to {one.to}", hint)


def _replace(block: Block, one: Difference) -> None:
    """Put another part in the place of one, and its wires on the lugs of the same names."""
    old = block["parts"].get(one.end)
    if old is None:
        raise Wrong(f"no part {shown(one.end)} here", known_here(block["parts"]))
    new = _switch(old, one.to) if "switch" in old else _part(old, one)
    block["parts"] = {
        one.name if name == one.end else name: new if name == one.end else part
        for name, part in block["parts"].items()
    }
    lug = re.compile(rf"{re.escape(one.end)}\.")
    block["wires"] = [
        [*(lug.sub(f"{one.name}.", end) if lug.match(end) else end for end in wire[:2]), wire[2]]
        for wire in block["wires"]
    ]


def _switch(old: Block, said: str) -> Block:
    said, _, timing = said.partition(",")
    form = switch_told(said)
    if form is None:
        raise Wrong("say its form here", "write S1 is DP3T, non-shorting")
    kept: Block = {key: old[key] for key in ("control", "style") if key in old}
    beside = dict(form.beside)
    timing = timing.strip() or beside.pop("timing", "unknown").strip("{}")
    return {"switch": form.form, **kept, **beside, "timing": timing_told(timing)}


def _part(old: Block, one: Difference) -> Block:
    role = {"replaces": one.end} if one.name != one.end else {}
    return {**values_told(next(key for key in VALUES if key in old), one.to), **role}


def _left(wires: list[list[str]], part: str, lugs: Collection[str]) -> list[list[str]]:
    """The wires once a part has other lugs: on those that it lacks they are cut off."""
    left = []
    for one, other, colour in wires:
        kept = [end for end in (one, other) if not end.startswith(f"{part}.") or end in lugs]
        away = [end for end in kept if end != CUT and not end.startswith(f"{part}.")]
        if len(kept) == 2:
            left.append([one, other, colour])
        elif away:
            left.append([away[0], CUT, colour])
    return left


# Questions

READERS: Mapping[str, Callable[[str], Any]] = {
    "answer": answered, "name": name_told, "positions": positions_told, "words": words_told,
    "pieces": pieces_told, "switch": switch_told, "timing": timing_told, "groups": groups_told,
    "wire": wire_told, "part": part_told, "point": point_told, "reading": reading_told,
    "difference": difference_told, "plan": plan_told,
    "yes or no": lambda text: YES_OR_NO.read(answered(text)),
}  # fmt: skip
"""What ``questions.yaml`` calls them; each raises ``Wrong``."""


@dataclass(frozen=True, slots=True)
class Question:
    """What is asked, and how an answer is read."""

    asks: str
    read: Callable[[str], Any]
    known: tuple[str, ...] = ()
    """Words that may be meant, for completing them."""
    default: str = ""
    """What an empty answer stands for."""
    help: str = ""
    caution: str = ""


@cache
def _texts() -> dict[str, dict[str, Any]]:
    text = resources.files(__package__).joinpath("questions.yaml").read_text("utf-8")
    found: dict[str, dict[str, Any]] = yaml.safe_load(text)
    return found


def question(
    key: str, default: str | None = None, known: Sequence[str] = (), /, **names: object
) -> Question:
    """The question of a key of ``questions.yaml``, with names put in."""
    told = _texts()[key]
    if told.get("read") == "yes or no":
        told = {**told, "asks": f"{told['asks']} yes / no", "known": ["yes", "no"]}
    one = Question(
        asks=told["asks"].format(**names), read=READERS.get(told.get("read", ""), str),
        known=(*told.get("known", ()), *known), help=told.get("help", ""),
        default=told.get("default", "") if default is None else default,
    )  # fmt: skip
    return choice(one, told["choose"]) if "choose" in told else one


def choice(one: Question, known: Sequence[str]) -> Question:
    """The same question, answered by one of some words."""
    asks = f"{one.asks} {' / '.join(known)}"
    return replace(one, asks=asks, read=word(*known).read, known=tuple(known))


def lug_ends(wires: Sequence[Sequence[str]]) -> list[str]:
    """Every end of some wires in order of appearance, each once, without ``cut``."""
    return [end for end in dict.fromkeys(end for w in wires for end in w[:2]) if end != CUT]
