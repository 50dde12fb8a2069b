"""Specs built by hand and at random: pictures are tested without the reader."""

from __future__ import annotations

import random
import re
from collections.abc import Iterable, Sequence
from itertools import pairwise

from rewire.records.part import Part, Place, Section, Style
from rewire.records.parts import Meter, Resistor
from rewire.records.spec import Control, Document, Net, Point, Spec, Wire, Wiring
from rewire.records.switches import Layout, Switch, SwitchRating
from rewire.words.quantity import Piece

HERE = Place("made.yaml", 1, 1)
LETTERS = "ABCDEFGHJKLMNPQRSTUVWXYZ"
COLOURS = ("BK", "BN", "RD", "OG", "YE", "GN", "BU", "VT", "GY", "WH", "BKWH", "GNYE", None)


def plain_switch(
    name: str,
    form: str,
    *,
    style: Style | None = None,
    lugs: Sequence[Sequence[str]] | None = None,
    layout: Layout | None = None,
    note: str | None = None,
) -> Switch:
    words = {"S": 1, "D": 2}
    match = re.fullmatch(r"(\d+|S|D)P(\d+|S|D)T", form)
    assert match is not None, form
    count, throws = (words.get(t) or int(t) for t in match.groups())
    letters = LETTERS[:count]
    poles = lugs or [[a, *(f"{a}{n}" for n in range(1, throws + 1))] for a in letters]
    closed = [
        Section(tuple(p), tuple(((p[0], lug),) for lug in p[1:]), "non-shorting", True, letter)
        for letter, p in zip(letters, poles, strict=True)
    ]
    return Switch(
        name=name, terminals=tuple(lug for p in poles for lug in p), place=HERE, form=form,
        control=f"{name}_TURN", sections=_grouped(closed), idle_lugs=(), throws=throws,
        throw_at=tuple(range(1, throws + 1)), poles=tuple(tuple(p) for p in poles), style=style,
        layout=layout, rating=SwitchRating(), contact_resistance=None, note=note,
    )  # fmt: skip


def _grouped(sections: Iterable[Section]) -> tuple[Section, ...]:
    return tuple(
        Section(s.lugs, tuple((g,) for (g,) in s.groups), s.timing, s.timing_stated, s.pole)
        for s in sections
    )


def table_switch(
    name: str,
    sections: Sequence[tuple[Sequence[str], Sequence[Sequence[Sequence[str]]]]],
    *,
    idle: Sequence[str] = (),
    style: Style | None = None,
    layout: Layout | None = None,
) -> Switch:
    """``sections`` are pairs of lugs and, per position, groups of lugs."""
    made = tuple(
        Section(
            tuple(lugs), tuple(tuple(tuple(g) for g in at) for at in groups),
            "shorting", True, None,
        )
        for lugs, groups in sections
    )  # fmt: skip
    return Switch(
        name=name, terminals=tuple(lug for s in made for lug in s.lugs) + tuple(idle),
        place=HERE, form="table", control=f"{name}_TURN", sections=made, idle_lugs=tuple(idle),
        throws=None, throw_at=None, poles=(), style=style, layout=layout, rating=SwitchRating(),
        contact_resistance=None,
    )  # fmt: skip


def wire(name: str, start: str, end: str, colour: str | None = None, **more: object) -> Wire:
    fields: dict[str, object] = {
        "gauge": None, "insulation_volts": None, "twisted_with": None, "screened": False,
        "length_metres": None, "note": None, **more,
    }  # fmt: skip
    jumper = start.partition(".")[0] == end.partition(".")[0]
    return Wire(id=name, ends=(start, end), jumper=jumper, colour=colour, place=HERE, **fields)  # type: ignore[arg-type]


def meter(name: str = "M1") -> Meter:
    return Meter(
        name=name, terminals=("+", "-"), place=HERE, full_scale_amps=1e-3, full_scale_volts=None,
        resistance=60.0, resistance_tolerance_percent=None, accuracy_percent=None, zero="left",
        scales=(),
    )  # fmt: skip


def resistor(name: str, between: tuple[str, str] | None = None) -> Resistor:
    return Resistor(
        name=name, terminals=("1", "2"), place=HERE, between=between, pieces=Piece(15.0),
        fit_for=None, choose=None, tolerance_percent=None, rating_watts=None, working_volts=None,
    )  # fmt: skip


def net(name: str | None, *members: str) -> Net:
    return Net(name, members, HERE)


def point(name: str, **more: object) -> Point:
    fields: dict[str, object] = {
        "chassis": name == "CHASSIS", "live": False, "volts": None, "ac": False,
        "rises_to": None, "source_resistance": 0.0, "note": None, "where": None, **more,
    }  # fmt: skip
    return Point(name=name, place=HERE, **fields)  # type: ignore[arg-type]


def wiring(
    parts: Iterable[Part],
    wires: Iterable[Wire] = (),
    nets: Iterable[Net] = (),
    name: str = "original",
) -> Wiring:
    named = {part.name: part for part in parts}
    role = {"original": None, "as-found": "found"}.get(name, "plan")
    return Wiring(name, named, tuple(nets), tuple(wires), (), {}, None, HERE, role)


def spec(
    wirings: Sequence[Wiring],
    points: Iterable[Point],
    *,
    title: str = "A made-up set",
    positions: Sequence[str] | None = None,
    cautions: Sequence[str] = (),
) -> Spec:
    switches = [p for w in wirings for p in w.parts.values() if isinstance(p, Switch)]
    controls = {s.control: _control(s, positions) for s in switches}
    return Spec(
        file="made.yaml", title=title, equipment=None, summary=None, document=Document(),
        controls=controls, never=(), points={p.name: p for p in points}, parts={}, readings={},
        rules=(), wirings={w.name: w for w in wirings}, cautions=tuple(cautions),
        digest="0123456789abcdef" * 4,
    )  # fmt: skip


def _control(switch: Switch, positions: Sequence[str] | None) -> Control:
    count = len(switch.throw_at or switch.sections[0].groups)
    names = positions or [f"P{n}" for n in range(1, count + 1)]
    return Control(switch.control, tuple(names), False, False, None, HERE)


def random_switch(rng: random.Random) -> Switch:
    """Up to 6 poles by 12 throws, or a table with odd lug names, in any style."""
    styles: tuple[Style | None, ...] = (
        None, "toggle", "rotary", "slide", "push", "relay", "jack",
    )  # fmt: skip
    style = rng.choice(styles)
    if rng.random() < 0.25:
        return _random_table(rng, style)
    poles, throws = rng.randint(1, 6), rng.randint(1, 12)
    return plain_switch("S1", f"{poles}P{throws}T", style=style)


def _random_table(rng: random.Random, style: Style | None) -> Switch:
    alphabet = "ABCXYZabc0123456789_+-"
    names: set[str] = set()
    count = rng.randint(4, 30)
    while len(names) < count:
        size = rng.choice((1, 2, 2, 3, 3, 4, 8, 16))
        names.add("".join(rng.choice(alphabet) for _ in range(size)))
    lugs = sorted(names)
    rng.shuffle(lugs)
    cut = sorted({0, len(lugs), *(rng.randrange(2, len(lugs) - 1) for _ in range(2))})
    groups = [lugs[a:b] for a, b in pairwise(cut)]
    sections = [(g, [[g], [g[:2]] if len(g) > 1 else []]) for g in groups if len(g) > 1]
    idle = [lug for g in groups if len(g) == 1 for lug in g]
    return table_switch("S1", sections, idle=idle, style=style)


def random_view(seed: int) -> tuple[Spec, Wiring, str]:
    """A spec with one switch, up to 60 wires on it and destinations of up to 40 characters."""
    rng = random.Random(seed)
    switch = random_switch(rng)
    points = [point("CHASSIS"), *(point(_long_name(rng, n)) for n in range(8))]
    count = rng.choice((0, 3, 8, 15, 30, 60))
    share = rng.choice((0.0, 0.1, 0.3, 0.6))
    few = rng.random() < 0.2
    wires = []
    for number in range(count):
        lugs = switch.terminals[:3] if few else switch.terminals
        first = rng.choice(lugs)
        others = [lug for lug in switch.terminals if lug != first]
        jumper = rng.random() < share
        end = f"S1.{rng.choice(others)}" if jumper else rng.choice(points).name
        ends = [f"S1.{first}", end]
        rng.shuffle(ends)
        name = f"{'J' if jumper else 'W'}{number + 1}"
        wires.append(wire(name, ends[0], ends[1], rng.choice(COLOURS)))
    parts: list[Part] = [switch, meter()]
    if rng.random() < 0.4:
        a, b = rng.sample(switch.terminals, 2)
        parts.append(resistor("R1", (f"S1.{a}", f"S1.{b}")))
    nets = []
    if rng.random() < 0.4:
        members = [f"S1.{lug}" for lug in rng.sample(switch.terminals, 2)]
        nets.append(net(rng.choice((None, "return_line")), *members, points[1].name, "M1.+"))
    made = wiring(parts, wires, nets)
    return spec([made], points), made, switch.name


def _long_name(rng: random.Random, number: int) -> str:
    letters = "ABCDEFGHIJKLMNOPQRSTUVWXYZ_abcdefghijklmnopqrstuvwxyz"
    size = rng.choice((3, 8, 12, 20, 38))
    return f"P{number}" + "".join(rng.choice(letters) for _ in range(size))
