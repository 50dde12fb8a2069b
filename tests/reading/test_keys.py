"""Every key of a spec with the wrong type, the wrong unit, the unknown name."""

from __future__ import annotations

from itertools import cycle
from typing import Any

import pytest

from tests.reading.builders import Path, drop, faults, full, put

O = ("wirings", "original")  # noqa: E741
S = ("wirings", "substitute")
OP = (*O, "parts")
SP = (*S, "parts")
CHANGES = (*S, "changes")


def in_turn(paths: list[Path], values: list[Any]) -> list[tuple[Path, Any]]:
    """Each key with one of the values: what a kind of value refuses is tested where it is read."""
    return list(zip(paths, cycle(values), strict=False))


def where(path: Path) -> str:
    return ".".join(str(step) for step in path)


def test_every_key_at_once_is_right() -> None:
    assert faults(full()) == ""


TEXTS: list[Path] = [
    ("title",), ("equipment",), ("summary",), ("document", "author"), ("document", "date"),
    ("document", "revision"), ("document", "licence"), ("controls", "SEND", "note"),
    ("points", "HT", "note"), ("points", "HT", "where"), ("parts", "R1", "note"),
    ("parts", "R1", "where"), ("parts", "R1", "label"), ("readings", "bias", "scale"),
    ("readings", "bias", "meter"), ("rules", 0, "why"), (*O, "note"), (*OP, "S1", "switch"),
    (*OP, "S1", "control"), (*SP, "RV1", "for"), (*SP, "R21", "choose"), (*CHANGES, 0, "why"),
    ("found", 0, "what"), ("found", 0, "where"), ("found", 0, "plan"), ("found", 0, "why"),
    ("procedure", "before", 0, "do"), ("procedure", "before", 0, "where"),
    ("procedure", "before", 0, "caution"), ("acceptance", 0, "test"), ("acceptance", 0, "how"),
    ("acceptance", 0, "expect"), ("cautions", 0), ("pages", 0, "image"), ("pages", 0, "title"),
    ("options", 0, "note"), ("options", 0, "replaces"), ("options", 0, "meter"),
    ("pages", 0, "notes", 0, "about"), ("pages", 0, "notes", 1, "text"), (*O, "wires", 1, "id"),
    (*O, "wires", 1, "from"), (*O, "wires", 1, "to"), (*O, "wires", 1, "colour"),
    (*O, "wires", 1, "gauge"), (*O, "wires", 1, "twisted_with"), (*O, "wires", 1, "note"),
    (*O, "wires", 0, 0), (*O, "wires", 0, 1), (*O, "wires", 0, 2), (*OP, "S1", "style"),
    (*OP, "M1", "zero"), ("parts", "D1", "diode"), ("parts", "X1", "strip"), ("rewire",),
    ("controls", "SEND", "moves"), (*OP, "S1", "timing", "1"), (*OP, "S1", "positions", "BIAS"),
    (*S, "role"), (*S, "wires", 1, 1), (*CHANGES, 9, "why"),
]  # fmt: skip
LISTS: list[Path] = [
    ("never",), ("rules",), ("cautions",), ("found",), ("acceptance",), ("pages",), ("options",),
    ("procedure", "before"), ("procedure", "after"), (*O, "nets"), (*O, "wires"), CHANGES,
    ("readings", "bias", "also"), ("pages", 0, "notes"), ("pages", 0, "notes", 0, "at"),
    ("controls", "SEND", "positions"), ("controls", "METER"), (*OP, "S2", "contacts", "ON"),
    (*OP, "S2", "contacts", "ON", 0), (*OP, "S1", "lugs"), (*OP, "S1", "lugs", 0),
    (*O, "nets", 0), ("parts", "R1", "between"), ("readings", "bias", "current"),
    ("readings", "volts", "voltage"), ("rules", 0, "connect"), ("rules", 1, "isolate"),
    (*CHANGES, 0, "between"), (*CHANGES, 1, "drop"), (*CHANGES, 2, "join"), (*CHANGES, 3, "gap"),
    (*CHANGES, 4, "bridge"), (*CHANGES, 5, "interrupt"), (*CHANGES, 6, "stray"),
    (*CHANGES, 9, "between"), (*S, "nets", "feed"), ("readings", "bias", "also", 0, "current"),
]  # fmt: skip
MAPPINGS: list[Path] = [
    ("document",), ("controls",), ("controls", "SEND"), ("never", 0), ("points",),
    ("points", "HT"), ("parts",), ("parts", "R1"), ("readings",), ("readings", "bias"),
    ("readings", "bias", "when"), ("readings", "bias", "marks"), ("readings", "bias", "also", 0),
    ("rules", 0), ("rules", 0, "when"), ("wirings",), O, OP, (*OP, "M1"), (*CHANGES, 1, "when"),
    (*O, "wires", 1), (*CHANGES, 0), (*S, "readings"), (*S, "readings", "bias"), ("bench",),
    ("found", 0), ("procedure",), ("procedure", "after", 0), ("acceptance", 0), ("pages", 0),
    ("options", 0), ("pages", 0, "notes", 0), (*OP, "S1", "rating"), (*OP, "S1", "positions"),
    (*OP, "S2", "contacts"),
]  # fmt: skip
FLAGS: list[Path] = [
    ("controls", "SEND", "wraps"), ("points", "CHASSIS", "chassis"), ("points", "HT", "ac"),
    ("readings", "bias", "ac"), ("rules", 0, "while_switching"), (*CHANGES, 6, "reversible"),
    ("parts", "C1", "polarised"), (*OP, "M1", "ac"),
    (*O, "wires", 1, "screened"),
]  # fmt: skip
OHMS: list[Path] = [
    ("points", "HT", "source_resistance"), ("parts", "R1", "resistor"),
    ("parts", "L1", "resistance"), ("parts", "F1", "resistance"),
    ("readings", "bias", "source_resistance"), ("rules", 0, "within"), ("rules", 1, "beyond"),
    (*OP, "M1", "resistance"), (*OP, "S1", "contact_resistance"), (*SP, "RV1", "pot"),
    ("bench", "series_resistor"),
]  # fmt: skip
VOLTS: list[Path] = [
    ("points", "HT", "volts"), ("points", "HT", "rises_to"), ("parts", "R1", "working_volts"),
    ("parts", "C1", "rating"), ("parts", "H1", "lamp"), ("parts", "D1", "diode"),
    ("readings", "volts", "full_scale"), (*OP, "S1", "rating", "volts"),
    (*OP, "S1", "rating", "shaft_volts"), (*O, "wires", 1, "insulation"), ("bench", "supply_volts"),
]  # fmt: skip
AMPS: list[Path] = [
    ("parts", "H1", "current"), ("parts", "F1", "fuse"), ("readings", "bias", "full_scale"),
    ("readings", "bias", "also", 0, "amount"), (*OP, "S1", "rating", "amps"),
    ("bench", "supply_amps"), (*S, "readings", "bias", "full_scale"),
]  # fmt: skip
WATTS: list[Path] = [("parts", "R1", "rating"), (*SP, "RV1", "rating"), ("bench", "rating")]
PERCENT: list[Path] = [
    ("parts", "R1", "tolerance"), (*OP, "M1", "resistance_tolerance"), (*OP, "M1", "accuracy"),
    (*SP, "RV1", "tolerance"), (*SP, "RV2", "setting"),
    ("readings", "bias", "accept"),
]  # fmt: skip
OTHERS: list[Path] = [
    ("parts", "C1", "capacitor"), ("parts", "L1", "choke"), (*O, "wires", 1, "length"),
    (*SP, "RV1", "turns"), (*OP, "M1", "meter"),
]  # fmt: skip
QUANTITIES = OHMS + VOLTS + AMPS + WATTS + PERCENT + OTHERS
UNITS = {"ohm": OHMS, "V": VOLTS, "A": AMPS, "W": WATTS, "%": PERCENT, "nF": [OTHERS[0]]}


def one_fault(path: Path, value: Any) -> str:
    """What is said, which must be a fault and must not be a flood."""
    said = faults(put(full(), path, value))
    assert said.count("\n") < 12, said
    assert all(line.startswith("<text>:") for line in said.split("\n")), said
    return said


@pytest.mark.parametrize(
    ("path", "value"), in_turn(TEXTS + QUANTITIES + FLAGS, [["a", "list"], {"a": "mapping"}, ""])
)
def test_a_text_cannot_be_a_list_a_mapping_or_nothing(path: Path, value: Any) -> None:
    if path[-1] in ("strip", "timing") and isinstance(value, list):
        value = [["nested"]]
    assert one_fault(path, value)


@pytest.mark.parametrize(("path", "value"), in_turn(LISTS, ["text", {"a": {"b": "c"}}]))
def test_a_list_cannot_be_a_text_or_a_mapping(path: Path, value: Any) -> None:
    assert one_fault(path, value)


@pytest.mark.parametrize(("path", "value"), in_turn(MAPPINGS, ["text", [["a", "list"]]]))
def test_a_mapping_cannot_be_a_text_or_a_list(path: Path, value: Any) -> None:
    assert one_fault(path, value)


@pytest.mark.parametrize("path", FLAGS, ids=where)
def test_a_flag_is_yes_or_no(path: Path) -> None:
    assert "yes" in one_fault(path, "perhaps")
    for word in ("yes", "no", "true", "False", "on", "OFF"):
        assert faults(put(full(), path, word)) == ""


@pytest.mark.parametrize(
    ("path", "value"),
    in_turn(QUANTITIES, ["NaN", "nan ohm", ".inf", "-inf V", "1e999 A", "much", "1 x"]),
)
def test_a_quantity_is_a_finite_number_with_a_unit(path: Path, value: str) -> None:
    assert one_fault(path, value)


@pytest.mark.parametrize(
    ("path", "unit"),
    [(path, unit) for path, unit in in_turn(QUANTITIES, [*UNITS]) if path not in UNITS[unit]],
    ids=lambda value: value if isinstance(value, str) else where(value),
)
def test_another_unit_is_refused_with_one_that_fits(path: Path, unit: str) -> None:
    if path[-1] == "meter" and unit in ("A", "V"):
        assert faults(put(full(), path, f"1 {unit}")) == ""
        return
    assert "; " in one_fault(path, f"1 {unit}")


@pytest.mark.parametrize("path", [p for p in QUANTITIES if p[-1] not in ("volts", "rises_to")])
def test_a_negative_value_is_refused(path: Path) -> None:
    unit = next((unit for unit, own in UNITS.items() if path in own), "")
    unit = {"choke": "H", "length": "mm", "meter": "mA"}.get(str(path[-1]), unit)
    assert "negative" in one_fault(path, f"-1 {unit}")


@pytest.mark.parametrize(
    "path",
    [("readings", "bias", "full_scale"), ("readings", "volts", "full_scale"), (*OP, "M1", "meter")],
    ids=where,
)
def test_a_zero_full_scale_is_refused(path: Path) -> None:
    unit = "V" if "volts" in path else "A"
    assert "zero" in one_fault(path, f"0 {unit}")


HOLDERS: list[Path] = [
    (), ("document",), ("controls", "SEND"), ("points", "HT"), ("parts", "R1"), ("parts", "C1"),
    ("parts", "L1"), ("parts", "D1"), ("parts", "H1"), ("parts", "F1"), ("parts", "X1"),
    (*OP, "M1"), (*OP, "S1"), (*OP, "S1", "rating"), (*SP, "RV1"), ("readings", "bias"),
    ("readings", "bias", "also", 0), ("rules", 0), O, (*O, "wires", 1), (*CHANGES, 0), ("bench",),
    ("found", 0), ("procedure",), ("procedure", "before", 0), ("acceptance", 0), ("pages", 0),
    ("pages", 0, "notes", 0),
]  # fmt: skip


@pytest.mark.parametrize("path", HOLDERS, ids=where)
def test_an_unknown_key_is_refused_and_named(path: Path) -> None:
    assert "unknown key 'zzz'" in one_fault((*path, "zzz"), "1")


@pytest.mark.parametrize(
    ("path", "typo", "right"),
    [
        ((), "contrls", "controls"),
        (("points", "HT"), "rises", "rises_to"),
        ((*OP, "S1"), "possitions", "positions"),
        ((*OP, "M1"), "resistance_tolerence", "resistance_tolerance"),
        ((*O, "wires", 1), "twistedwith", "twisted_with"),
        (("rules", 0), "while-switching", "while_switching"),
        ((*CHANGES, 0), "whi", "why"),
        (("pages", 0, "notes", 0), "abuot", "about"),
    ],
)
def test_the_nearest_key_is_offered(path: Path, typo: str, right: str) -> None:
    assert f"unknown key '{typo}'; nearest is '{right}'" in one_fault((*path, typo), "1")


REQUIRED: list[Path] = [
    ("rewire",), ("title",), ("wirings",), ("controls", "SEND", "positions"),
    ("parts", "R1", "resistor"), ("parts", "L1", "resistance"), (*OP, "S1", "control"),
    ("readings", "volts", "voltage"), ("readings", "volts", "full_scale"),
    ("readings", "bias", "also", 0, "amount"), ("rules", 1, "isolate"), (*O, "wires", 1, "from"),
    (*O, "wires", 1, "to"), (*CHANGES, 0, "between"), (*CHANGES, 1, "drop"), O,
    (*CHANGES, 9, "between"),
    ("found", 0, "what"), ("procedure", "after", 0, "do"), ("acceptance", 0, "test"),
    ("acceptance", 0, "expect"), ("pages", 0, "image"), ("pages", 0, "notes", 0, "at"),
    ("options", 0, "meter"), ("options", 0, "resistance"),
    ("pages", 0, "notes", 1, "text"), (*OP, "S2", "contacts"), (*SP, "S2", "positions"),
    (*SP, "RV1", "for"),
]  # fmt: skip


@pytest.mark.parametrize("path", REQUIRED, ids=where)
def test_a_key_that_is_needed_is_missed(path: Path) -> None:
    assert faults(drop(full(), path))


NAMES: list[tuple[Path, Any, str]] = [
    (("never", 0), {"METRE": "BIAS"}, "no control 'METRE'; nearest is 'METER'"),
    (("never", 0), {"METER": "BIAZ"}, "no position 'BIAZ'; nearest is 'BIAS'"),
    (("readings", "bias", "when"), {"SENT": "ON"}, "no control 'SENT'; nearest is 'SEND'"),
    (("readings", "bias", "when"), {"SEND": "ONN"}, "no position 'ONN'; nearest is 'ON'"),
    (("rules", 0, "when"), {"METER": ["BIAS", "CATHOD"]}, "nearest is 'CATHODE'"),
    ((*CHANGES, 1, "when"), {"METER": "SCREEM"}, "nearest is 'SCREEN'"),
    ((*OP, "S1", "control"), "METRE", "no control 'METRE'; nearest is 'METER'"),
    ((*OP, "S1", "positions"), {"BIAZ": "1"}, "no position 'BIAZ'; nearest is 'BIAS'"),
    ((*OP, "S2", "contacts"), {"UN": [["T", "R"]]}, "no position 'UN'; nearest is 'ON'"),
    ((*OP, "S1", "timing"), {"13": "shorting"}, "no lug '13'"),
    ((*OP, "S2", "timing"), {"TT": "shorting"}, "no lug 'TT'; nearest is 'T'"),
    (("parts", "R1", "between"), ["FEED", "CHASIS"], "no point 'CHASIS'; nearest is 'CHASSIS'"),
    (("parts", "R1", "between"), ["FEED", "C1.3"], "'C1' has no lug '3'"),
    ((*O, "nets", 0), ["FEED", "S1.13"], "'S1' has no lug '13'; its lugs are 1, 2, 3, 4"),
    ((*S, "nets", "feed"), ["FEED", "RV1.wipper"], "nearest is 'RV1.wiper'"),
    ((*O, "wires", 0), ["S1.5", "M11.+"], "no part 'M11' in wiring 'original'"),
    ((*O, "wires", 0), ["S1.5", "M1.p"], "'M1' has no lug 'p'"),
    ((*O, "wires", 0), ["S1", "M1.+"], "'S1' is a part, not a terminal; write S1.1"),
    ((*O, "wires", 0), ["S1.5", "M2.+"], "no part 'M2' in wiring 'original'; nearest is 'M1.+'"),
    ((*O, "wires", 1, "from"), "S1.13", "'S1' has no lug '13'"),
    (("readings", "bias", "current"), ["FEDE", "CHASSIS"], "nearest is 'FEED'"),
    (("readings", "bias", "also", 0, "current"), ["HT", "FEDE"], "nearest is 'FEED'"),
    (("readings", "bias", "meter"), "M3", "no meter 'M3' in the original; nearest is 'M1'"),
    (("readings", "bias", "meter"), "R12", "'R12' is no meter of the original"),
    ((*S, "readings", "bias", "current"), ["FEDE", "CHASSIS"], "nearest is 'FEED'"),
    (("rules", 0, "connect"), ["FEED", "CHASSI"], "nearest is 'CHASSIS'"),
    ((*SP, "M2", "replaces"), "M3", "no part 'M3' in the original; nearest is 'M1'"),
    ((*SP, "RV1", "replaces"), {"ccw": "R12.3"}, "'R12' has no lug '3'"),
    ((*SP, "RV1", "replaces"), {"cww": "R12.1"}, "'RV1' has no lug 'cww'; nearest is 'ccw'"),
    ((*SP, "RV1", "for"), "bais", "no reading 'bais'; nearest is 'bias'"),
    ((*CHANGES, 0, "insert"), "R22", "no part 'R22' in this wiring; nearest is 'R21'"),
    ((*CHANGES, 0, "between"), ["FEED", "M2.+"], "no part 'M2' in wiring 'original'"),
    ((*CHANGES, 1, "drop"), ["FEED", "HTT"], "no point 'HTT'; nearest is 'HT'"),
    ((*CHANGES, 7, "remove"), ["R20", "R22"], "no part 'R22' in the original; nearest is 'R20'"),
    ((*CHANGES, 8, "reverse"), "M5", "no part 'M5' in the original; nearest is 'M1'"),
    (("pages", 0, "notes", 0, "about"), "R7", "no part or point 'R7'; nearest is 'R1'"),
    (("parts", "D1", "diode"), "silicone", "write silicon, germanium or a forward voltage"),
    ((*OP, "M1", "zero"), "middle", "'left', 'centre'"),
    ((*OP, "S1", "style"), "rotery", "write rotary"),
    ((*OP, "S1", "timing"), "short", "non-shorting, shorting, unknown"),
    (("found", 0, "part"), "R7", "no part 'R7' in any wiring; nearest is 'R1'"),
    (("found", 0, "plan"), "throw away", "'keep', 'remove' or 'replace'"),
    ((*O, "wires", 0), ["S1.5", "M1.+", "XX"], "IEC 60757"),
    ((*O, "wires", 0), ["S1.5", "M1.+", "red"], "red is RD"),
    (("controls", "SEND", "moves"), "some", "write 'any'"),
    (("rewire",), "2", "version '2' of the format is not known; write rewire: 1"),
]


@pytest.mark.parametrize(("path", "value", "said"), NAMES, ids=lambda value: str(value)[:40])
def test_an_unknown_name_is_refused_with_a_way_out(path: Path, value: Any, said: str) -> None:
    assert said in one_fault(path, value)
