"""A drawer: parts on hand, checked like the parts of a spec, all that is wrong said at once."""

from __future__ import annotations

import contextlib
from pathlib import Path

import pytest
from hypothesis import given, strategies as st

from rewire.reading import SpecError
from rewire.reading.drawer import read_drawer, read_drawer_text
from rewire.records.switches import default_lugs, pole_letters
from rewire.words.quantity import total_ohms

HEAD = "rewire_drawer: 1\n"


def faults(text: str) -> list[str]:
    with pytest.raises(SpecError) as caught:
        read_drawer_text(text.encode(), "drawer.yaml")
    return [str(fault) for fault in caught.value.faults]


def test_a_drawer_is_read() -> None:
    drawer = read_drawer_text((HEAD + """
title: the left-hand one
resistors:
  - {resistor: 4k7, tolerance: 1 %, rating: 0.5 W, quantity: 3, where: third tray}
  - {resistor: 10 ohm || 10 ohm}
pots: [{pot: 1 kohm, turns: 10, quantity: 0}]
meters: [{meter: 50 mV, resistance: 100 ohm}]
switches:
  - {switch: 4P3T, timing: shorting, rating: {volts: 250 V}}
  - {switch: SPST}
  - {switch: table, contacts: {out: [[R, S]], in: [[T, PT], [S, PS]]}}
""").encode())  # fmt: skip
    resistors = [(total_ohms(s.part.pieces), s.quantity) for s in drawer.resistors if s.part.pieces]
    assert resistors == [(4700.0, 3), (5.0, 1)]
    assert drawer.resistors[0].part.rating_watts == 0.5
    assert drawer.resistors[0].part.place.line == 5
    assert [s.quantity for s in drawer.pots] == [0]
    assert drawer.meters[0].part.full_scale_volts == 0.05
    plain, single, table = (s.part for s in drawer.switches)
    assert plain.throw_at == (1, 2, 3)
    assert plain.sections[0].timing == "shorting"
    assert single.throw_at == (1, None)
    assert {frozenset(section.lugs) for section in table.sections} == {
        frozenset("RS") | {"PS"}, frozenset({"T", "PT"}),
    }  # fmt: skip


@given(st.integers(1, 8), st.integers(2, 12), st.integers(0, 99))
def test_any_plain_switch_has_its_lugs_and_a_position_for_each_throw(
    poles: int, throws: int, quantity: int
) -> None:
    text = f"{HEAD}switches: [{{switch: {poles}P{throws}T, quantity: {quantity}}}]\n"
    (found,) = read_drawer_text(text.encode()).switches
    assert found.quantity == quantity
    assert found.part.throw_at == tuple(range(1, throws + 1))
    assert found.part.poles == tuple(tuple(row) for row in default_lugs(poles, throws))
    assert len(pole_letters(poles)) == len(found.part.sections)


@pytest.mark.parametrize(("text", "said"), [
    ("rewire: 1\n", "drawer.yaml:1:1: this is not a drawer"),
    (HEAD + "resistor: []\n", "drawer.yaml:2:1: unknown key 'resistor'; nearest is 'resistors'"),
    (HEAD + "resistors: [{resistor: 10 V}]\n", "drawer.yaml:2:24: resistor: '10 V' is in volts"),
    (HEAD + "resistors: [{resistor: 1k, quantity: some}]\n", "'some' is no number of pieces"),
    (HEAD + "resistors: [{resistor: 1k, quantty: 3}]\n", "2:28: unknown key 'quantty'; nearest"),
    (HEAD + "resistors: [{resistor: 1k, ratng: 1 W}]\n", "'ratng'; nearest is 'rating'"),
    (HEAD + "resistors: 10 ohm\n", "a list of resistors is needed"),
    (HEAD + "resistors: [[1, 2]]\n", "a resistor is needed in this list"),
    (HEAD + "resistors: [{pot: 1k}]\n", "a resistor is needed in this list"),
    (HEAD + "resistors: [{resistor: fit}]\n", "a part in a drawer has a value"),
    (HEAD + "pots: [{pot: 1k, setting: 50 %}]\n", "'setting' says how a part is wired"),
    (HEAD + "pots: [{pot: 1k, between: [A, B]}]\n", "'between' says how a part is wired"),
    (HEAD + "switches: [{switch: DPDT, control: A}]\n", "'control' says how a part is wired"),
    (HEAD + "switches: [{switch: 4P33}]\n", "'4P33' is not a switch form"),
    (HEAD + "switches: [{switch: DPDT, lugs: [[x, y, z]]}]\n", "DPDT has 2 poles of 3 lugs"),
    (HEAD + "switches: [{switch: table}]\n", "drawer.yaml:2:"),
    (HEAD + "meters: [{meter: 50 mV, resistance: 0}]\n", "cannot have zero resistance"),
])  # fmt: skip
def test_what_is_wrong_is_said_with_its_place(text: str, said: str) -> None:
    found = faults(text)
    assert len(found) == 1
    assert said in found[0]


def test_all_that_is_wrong_is_said_at_once() -> None:
    text = f"{HEAD}resistors: [{{resistor: 10 V}}, {{resistor: 1k, quantity: -1}}, [x]]\npots: 3\n"
    assert len(faults(text)) == 4


def test_a_drawer_that_is_not_there(tmp_path: Path) -> None:
    with pytest.raises(SpecError, match="the drawer cannot be read"):
        read_drawer(tmp_path / "none.yaml")


@given(st.binary(max_size=80))
def test_any_bytes_are_read_or_refused(data: bytes) -> None:
    text = HEAD.encode() + data
    try:
        drawer = read_drawer_text(text)
    except SpecError:
        with pytest.raises(SpecError, match=r"<text>:\d+:\d+: "):
            read_drawer_text(text)
        return
    assert all(one.quantity >= 0 for one in drawer.resistors)


TABLE = """Kind;Value;Tolerance;Rating;Quantity;Resistance;Timing;Volts;Note
resistor;4k7;1 %;0,5 W;3;;;;"blue box; left, 2,5 mm leads"
resistor;0,33 ohm;5 %;;;;;;
;;;;;;;;
pot;1 kohm;;;2;;;;
switch;3P4T;;;1;;shorting;250 V;
meter;1 mA;;;;62,5 ohm;;;
"""
"""As a spreadsheet saves it where the comma is the decimal sign (common practice, no source)."""


@pytest.mark.parametrize(
    "data",
    [
        TABLE.encode(), b"\xef\xbb\xbf" + TABLE.encode(), TABLE.replace("\n", "\r\n").encode(),
        TABLE.replace(";;;;;;;;\n", "\n").encode(),
    ],
)  # fmt: skip
def test_a_table_is_read_as_a_spreadsheet_saves_it(data: bytes) -> None:
    drawer = read_drawer_text(data, "drawer.csv")
    found = [(s.part.pieces and total_ohms(s.part.pieces), s.quantity) for s in drawer.resistors]
    assert found == [(4700.0, 3), (0.33, 1)]
    assert drawer.resistors[0].part.rating_watts == 0.5
    assert drawer.resistors[0].part.note == "blue box; left, 2,5 mm leads"
    assert drawer.resistors[1].part.place.line == 3
    assert [s.quantity for s in drawer.pots] == [2]
    (switch,) = (s.part for s in drawer.switches)
    assert (switch.form, switch.rating.volts) == ("3P4T", 250.0)
    assert switch.sections[0].timing == "shorting"
    assert drawer.meters[0].part.resistance == 62.5


def test_a_table_with_commas_and_signs_of_an_old_spreadsheet() -> None:
    data = 'kind,value,quantity\nmeter,50 \N{MICRO SIGN}A,1\n"resistor","1.5 kohm",7\n'
    drawer = read_drawer_text(data.encode("cp1252"), "old.csv")
    assert drawer.resistors[0].quantity == 7
    assert drawer.meters[0].part.full_scale_amps == pytest.approx(50e-6)


def test_all_that_is_wrong_in_a_table_is_said_at_once() -> None:
    with pytest.raises(SpecError) as caught:
        read_drawer_text(
            b"kind;value;tolerence;quantity\nresistr;1k;;\nresistor;one;;many\n;5k;;\n", "d.csv"
        )
    said = [str(fault) for fault in caught.value.faults]
    assert said == [
        "d.csv:1:3: unknown column 'tolerence'; nearest is 'tolerance'",
        "d.csv:2:1: 'resistr' is no kind of part; write one of resistor, pot, switch, meter",
        "d.csv:3:2: resistor: 'one' is not a resistance; write a resistance such as '10 ohm'",
        "d.csv:3:4: 'many' is no number of pieces; write quantity: 5",
        "d.csv:4:2: the kind of this part is missing; write one of resistor, pot, switch, meter",
    ]


@pytest.mark.parametrize("data", [b"", b"a;b\n1;2\n", b"rewire: 1\n"])
def test_a_table_without_columns_is_told_how_to_begin(data: bytes) -> None:
    with pytest.raises(SpecError) as caught:
        read_drawer_text(data, "d.csv")
    assert "names its columns first; write kind, value" in str(caught.value.faults[0])


@given(st.binary(max_size=120) | st.text(max_size=120).map(str.encode))
def test_any_table_is_read_or_refused(rest: bytes) -> None:
    with contextlib.suppress(SpecError):
        read_drawer_text(b"kind,value,quantity\n" + rest, "d.csv")
