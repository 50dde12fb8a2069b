"""The interview: from what is told at the bench, answer by answer, to a spec.

Questions come in the order of the work. Which one is next, and what is known by then, follows
from the answers alone: so one can be taken back, and a broken-off interview goes on where it
stopped. What an answer says is held against the rules by which a spec is read.
"""

from __future__ import annotations

import difflib
import json
import re
from collections.abc import Collection, Generator, Iterable, Iterator, Sequence
from copy import deepcopy
from dataclasses import dataclass, replace
from functools import lru_cache, partial
from itertools import accumulate, chain
from typing import Any, TypeVar

import yaml

from rewire.bench import told
from rewire.bench.by_hand import Block, spec_text
from rewire.bench.identify import Identified, identify
from rewire.bench.told import CAUTION, Question, choice, question
from rewire.reading import SpecError, read_text
from rewire.reading.buzzout import read_buzzout_text
from rewire.reading.switches import FormSaid
from rewire.records.part import KINDS
from rewire.records.spec import CUT, Spec
from rewire.records.switches import Switch, default_lugs, pole_letters, read_form
from rewire.words.wire import COLOURS
from rewire.words.wording import Wrong, listing

T = TypeVar("T")
Asking = Generator[Question, Any, T]
_GROUNDS = ("CHASSIS", "EARTH", "GROUND", "GND")
_OFF = ("OFF", "CENTRE OFF", "CENTER OFF")
_ALIKE = 0.8
"""How alike two names are of which one may be a slip of the pen."""


@dataclass(frozen=True, slots=True)
class Fitting:
    """What ``fit`` has to do: replace a switch of the original by one at hand."""

    old: str
    form: str
    timing: str
    at_once: bool


@dataclass(slots=True)
class Draft:
    """What is known so far."""

    block: Block
    fit: Fitting | None = None

    @property
    def original(self) -> Block:
        """The maker's wiring."""
        found: Block = self.block["wirings"]["original"]
        return found

    def places(self) -> tuple[str, ...]:
        """Every point and lug that is named so far."""
        own = (told.lug_ends(one["wires"]) for one in self.block["wirings"].values())
        stays = (end for part in self.block["parts"].values() for end in part["between"])
        return tuple(dict.fromkeys([*(end for ends in own for end in ends), *stays]))

    def points(self) -> list[str]:
        """Every point that is named so far."""
        return [place for place in self.places() if "." not in place]

    def read(self) -> Spec:
        """The draft as a spec, strips for parts not described yet; ``Wrong`` if it cannot be so."""
        whole = deepcopy(self.block)
        whole["title"] = whole["title"] or "not told yet"
        stays = {end for part in whole["parts"].values() for end in part["between"]}
        for wiring in whole["wirings"].values():
            ends = {*told.lug_ends(wiring["wires"]), *stays}
            whole["points"] = {end: {} for end in ends if "." not in end} | whole["points"]
            wiring["parts"] |= _stand_ins(ends, {*wiring["parts"], *whole["parts"]})
        return _spec_of(spec_text(whole, "SPEC"))


@lru_cache(maxsize=256)
def _spec_of(text: str) -> Spec:
    """A spec as it reads; kept, for an interview is gone through again at each answer."""
    try:
        return read_text(text.encode())
    except SpecError as error:
        raise Wrong(error.faults[0].message, error.faults[0].hint) from None


def _stand_ins(ends: Iterable[str], known: Collection[str]) -> Block:
    """A strip for each part that is not described yet, with the lugs that it will have."""
    lugs: dict[str, list[str]] = {}
    for name, dot, lug in (end.partition(".") for end in sorted(ends)):
        if dot and name not in known:
            lugs.setdefault(name, []).append(lug)
    kinds = {name: KINDS.get(told.kind_by_letter(name)) for name in lugs}
    return {
        name: {"strip": list(kind.lugs) if kind is not None and kind.lugs else lugs[name]}
        for name, kind in kinds.items()
    }


@dataclass(frozen=True, slots=True)
class Stage:
    """Where an interview stands after some answers."""

    question: Question | None
    """The next question; None when all are answered."""
    draft: Draft
    spec: Spec
    asked: tuple[str, ...]


def stage_after(answers: Sequence[str]) -> Stage:
    """Where an interview stands; ``Wrong`` if the last answer cannot be."""
    block: Block = {"title": "", "equipment": "", "controls": {}, "points": {}, "parts": {}}
    draft = Draft({**block, "readings": {}, "wirings": {"original": {"parts": {}, "wires": []}}})
    asking = _interview(draft)
    one: Question | None = next(asking)
    asked = []
    for answer in answers:
        if one is None:
            raise Wrong("all is told already", "take this answer out")
        asked.append(one.asks)
        try:
            one = asking.send(one.read(answer.strip() or one.default))
        except StopIteration:
            one = None
            _spec_of(spec_text(draft.block, "SPEC"))  # no stand-ins any more
    return Stage(one, draft, draft.read(), tuple(asked))


def _interview(draft: Draft) -> Asking[None]:
    draft.block["title"] = yield question("title")
    draft.block["equipment"] = yield question("equipment")
    controls, key = draft.block["controls"], "knob"
    while name := (yield question(key)):
        controls[name] = yield question("positions", control=name)
        yield from _switch(draft, name, controls[name])
        key = "another knob"
    for name in list(draft.original["parts"]):
        spec = draft.read()
        for switch in (s for s in spec.all_of(Switch, spec.original).values() if s.name == name):
            for lug, said in _lugs_said(switch, controls[switch.control]):
                yield from _soldered(draft, f"{name}.{lug}", said)
    yield from _parts(draft)
    key = "staying"
    while words := (yield question(key, "", draft.places())):
        values = yield from _values(words[0])
        draft.block["parts"][words[0]] = {**values, "between": words[1:]}
        key = "another staying"
    yield from _points(draft)
    yield from _readings(draft)
    if (yield question("found")):
        yield from _different(draft, "as-found")
    yield from _planned(draft)


def _switch(draft: Draft, control: str, positions: Sequence[str]) -> Asking[None]:
    """What kind of switch a control moves."""
    parts = draft.original["parts"]
    name = yield question("switch", f"S{len(parts) + 1}", control=control)
    form = yield question("form", name=name)
    if form is None:
        block = yield from _buzzed(name, control, positions)
    else:
        block = yield from _plain(form, name, control, positions)
    parts[name] = block
    said = form.beside if form is not None else {}
    is_toggle = len(positions) < 3 or (form is not None and form.off)
    usual = said.get("style", "toggle" if is_toggle else "rotary")
    block["style"] = yield question("style", usual, name=name)
    moves = said.get("timing", "unknown").strip("{}")
    block["timing"] = yield question("timing", moves, name=name)
    if form is not None:
        lugs = yield from _numbered(form.form, name)
        block |= _with_own_lugs(form.form, block["timing"], lugs) if lugs else {}
    if block["style"] == "rotary":
        decks = yield question("decks", name=name)
        block |= {"layout": {"decks": decks}} if decks else {}


def _numbered(form: str, name: str) -> Asking[list[list[str]]]:
    """Its own numbers of the lugs of a plain form, pole by pole."""
    read = partial(told.lugs_told, *(read_form(form) or (1, 1)))
    lugs: list[list[str]] = yield replace(question("numbered", name=name), read=read)
    return lugs


def _with_own_lugs(form: str, timing: str | Block, lugs: list[list[str]]) -> Block:
    """Own numbers, and a timing that was told by the letters of the poles."""
    usual = chain.from_iterable(default_lugs(*(read_form(form) or (1, 1))))
    own = dict(zip(usual, chain.from_iterable(lugs), strict=True))
    if isinstance(timing, str):
        return {"lugs": lugs}
    return {"lugs": lugs, "timing": {own.get(lug, lug): said for lug, said in timing.items()}}


def _plain(form: FormSaid, name: str, control: str, positions: Sequence[str]) -> Asking[Block]:
    """A switch of poles and throws, with its throws where there are fewer than positions."""
    block = {"switch": form.form, "control": control}
    throws, count = (read_form(form.form) or (1, 1))[1], len(positions)
    if form.off and count != 3:
        message = f"a switch with its centre off has 3 positions, {control} has {count}"
        hint = "'back' twice, then name the centre too (UP, OFF, DOWN); or write DPDT without it"
        raise Wrong(message, hint)
    if throws >= count:
        return block
    off = [position.upper() in _OFF for position in positions]
    if form.off and not any(off):
        off = [False, True, False]
    on = accumulate(int(not one) for one in off)
    usual = [
        "open" if at_rest or throw > throws else str(throw)
        for at_rest, throw in zip(off, on, strict=True)
    ]
    names = {"name": name, "control": control, "at": listing(positions)}
    asked = question("throws", ", ".join(usual), throws=throws, count=count, **names)
    at = yield replace(asked, read=partial(told.throws_told, count))
    return {**block, "positions": dict(zip(positions, at, strict=True))}


def _buzzed(name: str, control: str, positions: Sequence[str]) -> Asking[Block]:
    """A switch found out with the ohmmeter, position by position."""
    lugs = yield replace(question("lugs", name=name), caution=CAUTION)
    closed = {}
    for position in positions:
        closed[position] = yield question("closed", "", lugs, control=control, position=position)
    text = json.dumps({"rewire_switch": "1", "lugs": lugs, "detents": closed})
    try:
        found = identify(read_buzzout_text(text.encode()), name, control)
    except SpecError as error:
        raise Wrong(error.faults[0].message, error.faults[0].hint) from None
    yield question("identified", name=name, said=_found_to_be(found))
    block = yaml.load(found.block, yaml.BaseLoader)["parts"][name]
    return {key: value for key, value in block.items() if key != "timing"}


def _found_to_be(found: Identified) -> str:
    if found.misread:
        one = found.misread[0]
        pair = " and ".join(one.closed or one.missing or ())
        return f"no plain switch; a {one.form} if {pair} were misread at {one.detent}"
    if not found.poles:
        return "no plain switch: its contacts are listed, position by position"
    poles = (f"common {pole.common} to {listing(pole.throws)}" for pole in found.poles)
    return f"a {found.form}; {'; '.join(poles)}"


def _lugs_said(switch: Switch, positions: Sequence[str]) -> Iterator[tuple[str, str]]:
    """Every lug, and which it is."""
    for letter, pole in zip(pole_letters(len(switch.poles)), switch.poles, strict=True):
        yield pole[0], f"pole {letter}, common"
        for throw, lug in enumerate(pole[1:], 1):
            pairs = zip(positions, switch.throw_at or (), strict=True)
            at = [position for position, here in pairs if here == throw]
            where = f"{switch.control} at {listing(at)}" if at else "in no position"
            yield lug, f"pole {letter}, throw {throw}; {where}"
    if not switch.poles:
        yield from ((lug, "no plain pole") for lug in switch.terminals)


def _soldered(draft: Draft, end: str, said: str) -> Asking[None]:
    """Every wire on a lug; one already given from its other end is not asked again."""
    wires = draft.original["wires"]
    while True:
        others = [a if b == end else b for a, b, *_ in wires if end in (a, b)]
        key = "soldered too" if others else "soldered"
        known = (*draft.places(), *COLOURS, CUT)
        has = f"{'wires' if len(others) > 1 else 'wire'} to {listing(others)}"
        wire = yield question(key, "", known, end=end, said=said, told=has)
        if wire is None:
            return
        if wire[0] in others:
            raise Wrong(f"a wire from {end} to {wire[0]} is noted already", "empty: nothing else")
        place = yield from _meant(draft, wire[0])
        wires.append([end, place, wire[1]])


def _meant(draft: Draft, place: str) -> Asking[str]:
    """A place, or the known one that it may be a slip of the pen for."""
    points = draft.points()
    close = difflib.get_close_matches(place, points, 1, _ALIKE)
    if place in points or "." in place or not close:
        return place
    if re.sub(r"[0-9]", "", place) == re.sub(r"[0-9]", "", close[0]):
        return place
    asked = question("meant", place=place, close=close[0])
    answer: str = yield choice(asked, (close[0], "new", place))
    if answer == place:
        _rename(draft, close[0], place)
    return close[0] if answer == close[0] else place


def _rename(draft: Draft, wrong: str, right: str) -> None:
    """Call a point by its right name wherever it was written wrong."""
    block = draft.block
    wires = (wire for one in block["wirings"].values() for wire in one["wires"])
    between = (part["between"] for part in block["parts"].values())
    read = (ends for one in block["readings"].values() for ends in one.values())
    for ends in chain(wires, between, (ends for ends in read if isinstance(ends, list))):
        ends[:2] = [right if end == wrong else end for end in ends[:2]]
    points = block["points"]
    block["points"] = {right if name == wrong else name: points[name] for name in points}


def _parts(draft: Draft) -> Asking[None]:
    """Every part that a wire goes to, the meters first; then any other with wires of its own."""
    original, name = draft.original, ""
    while True:
        todo = _not_described(draft, original, name)
        while todo:
            original["parts"][todo[0]] = yield from _values(todo[0])
            part = draft.read().original.parts[todo[0]]
            for lug in part.terminals:
                yield from _soldered(draft, part.terminal(lug), part.kind)
            todo = _not_described(draft, original)
        name = yield question("another part")
        if not name:
            return
        if name in original["parts"]:
            raise Wrong(f"{name} is told already", "empty: no more")


def _not_described(draft: Draft, wiring: Block, *names: str) -> list[str]:
    """Parts that are named in a wire and not known yet, meters first."""
    named = [end.partition(".")[0] for end in told.lug_ends(wiring["wires"]) if "." in end]
    known = {"", *wiring["parts"], *draft.block["parts"]}
    todo = [name for name in dict.fromkeys([*names, *named]) if name not in known]
    return sorted(todo, key=lambda one: told.kind_by_letter(one) != "meter")


def _values(name: str) -> Asking[Block]:
    """Kind and values of a part; the kind is asked where the letters of its name do not say it."""
    kind = told.kind_by_letter(name)
    if not kind:
        kind = yield choice(question("kind", name=name), [*told.VALUES])
    _, values, example = told.VALUES[kind]
    asked = question("values", name=name, kind=kind, values=values, example=example)
    block: Block = yield replace(asked, read=partial(told.values_told, kind))
    return block


def _points(draft: Draft) -> Asking[None]:
    """Which point is the chassis, and the volts of all others."""
    names = draft.points()
    if not names:
        return
    usual = next((name for name in names if name.upper() in _GROUNDS), "none")
    chassis = yield choice(question("chassis", usual), [*names, "none"])
    if chassis != "none":
        live = yield question("live")
        draft.block["points"][chassis] = {"chassis": "live" if live else "yes"}
    yield from _volts(draft)


def _volts(draft: Draft) -> Asking[None]:
    """Volts and whereabouts of every point that is named and not described."""
    points, caution = draft.block["points"], CAUTION
    for name in (name for name in draft.points() if name not in points):
        points[name] = yield replace(question("volts", name=name), caution=caution)
        caution = ""


def _readings(draft: Draft) -> Asking[None]:
    """What the meter shows in each position."""
    meters = [name for name, part in draft.original["parts"].items() if "meter" in part]
    for control, positions in draft.block["controls"].items() if meters else ():
        for position in positions:
            known = ("volts", "current", *draft.places())
            what = yield question("shows", "", known, control=control, position=position)
            if what:
                first = {"when": {control: position}, what[0]: what[1]}
                yield from _reading(draft, position, first, meters)


def _reading(draft: Draft, position: str, first: Block, meters: Sequence[str]) -> Asking[None]:
    readings, name = draft.block["readings"], told.name_for(position)
    some = "1 V" if "voltage" in first else "1 A"
    readings[name] = {**first, "full_scale": some, "meter": meters[0]}
    full, *scale = yield question("full scale", position=position)
    block = {**first, "full_scale": told.answered(full)} | ({"scale": scale[0]} if scale else {})
    readings[name] = {**block, "meter": meters[0]}
    if len(meters) > 1:
        block["meter"] = yield choice(question("which meter", meters[0], position=position), meters)
    readings[name] = block


def _different(draft: Draft, wiring: str) -> Asking[None]:
    """A wiring described by its differences from the original."""
    block = draft.block["wirings"][wiring] = deepcopy(draft.original)
    asked = replace(question("different", wiring=wiring), help=told.WAYS)
    ways = ("in", "out", "cut", "is", "replaces")
    while one := (yield replace(asked, known=(*ways, *draft.places()))):
        if one.does == "in":
            one = replace(one, to=(yield from _meant(draft, one.to)))
        told.differ(block, one, partial(_lugs_in, draft, block))
        for name in _not_described(draft, block):
            block["parts"][name] = yield from _values(name)
    yield from _volts(draft)


def _lugs_in(draft: Draft, block: Block) -> set[str]:
    """Every lug of the parts of a wiring."""
    parts = {
        name: {key: value for key, value in part.items() if key != "replaces"}
        for name, part in block["parts"].items()
    }
    bare = {"wirings": {"original": {"parts": parts, "wires": []}}, "readings": {}}
    read = Draft({**draft.block, **bare}).read().original.parts.values()
    return {terminal for part in read for terminal in part.full_terminals}


def _planned(draft: Draft) -> Asking[None]:
    switches = [name for name, part in draft.original["parts"].items() if "switch" in part]
    plan = yield question("planned")
    said = plan.form
    if said == "differences":
        yield from _different(draft, "planned")
    elif said and switches:
        old = switches[0]
        if len(switches) > 1:
            old = yield choice(question("replaced", old), switches)
        timing = yield question("new timing", plan.beside.get("timing", "unknown"))
        draft.fit = Fitting(old, said, timing, (yield question("fit now")))
