"""Switches: from a form and its throws, or a table of contacts, to lugs and sections."""

from __future__ import annotations

import re
from collections.abc import Collection, Iterator, Mapping, Sequence
from itertools import chain, zip_longest
from typing import Any, NamedTuple, TypeVar, cast

from rewire.reading.faults import Hint, Nearest
from rewire.reading.forms import BAD, Read, Reader, makes
from rewire.reading.names import check_lugs
from rewire.records.part import Section, Timing
from rewire.records.spec import Control
from rewire.records.switches import (
    Groups,
    Switch,
    default_lugs,
    form_named,
    lug_positions,
    pole_letters,
    read_form,
)
from rewire.words.wording import Wrong, shown, two_in_one

_FORMS = ("SPST", "SPDT", "DPST", "DPDT", "3PDT", "4PDT", "SP3T", "2P6T", "3P4T", "table")
Poles = dict[str, list[str]]
_SPRINGS = r"mom(?:entary)?\b"
_COUNTS = {
    "single": 1, "one": 1, "double": 2, "two": 2, "triple": 3, "three": 3, "four": 4, "five": 5,
    "six": 6, "eight": 8, "ten": 10, "twelve": 12,
}  # fmt: skip
_TIMING_OF = {
    "non shorting": "non-shorting", "nonshorting": "non-shorting", "bbm": "non-shorting",
    "break before make": "non-shorting", "shorting": "shorting", "mbb": "shorting",
    "make before break": "shorting",
}  # fmt: skip
_TIMING = re.compile(
    rf"((?:\b[A-HJ-NP-Z]\b(?:, ?| and |: ?| is | are | )?)*)\b((?i:{'|'.join(_TIMING_OF)}))\b"
)
"""Letters of poles, if any, and what their timing is."""
_Owner = TypeVar("_Owner", str, int)


def linked(lugs: Sequence[str], groups: Sequence[Groups]) -> list[list[str]]:
    """Lugs that the groups of any position link together, two or more, in the order of ``lugs``."""
    piece_of = {lug: [lug] for lug in lugs}
    for group in chain.from_iterable(groups):
        for lug in group[1:]:
            one, other = sorted((piece_of[group[0]], piece_of[lug]), key=len)
            if one is not other:
                other += one
                piece_of.update(dict.fromkeys(one, other))
    order = {lug: number for number, lug in enumerate(lugs)}
    pieces = {id(piece_of[lug]): piece_of[lug] for lug in lugs}.values()
    return [sorted(piece, key=order.__getitem__) for piece in pieces if len(piece) > 1]


def sections_of_poles(
    poles: Mapping[str, Sequence[str]],
    throw_at: Sequence[int | None],
    timings: Mapping[str, Timing],
) -> list[Section]:
    """One section for each pole that closes in some position.

    Args:
        poles: pole letter → its lugs, the common first.
        throw_at: per position of the control the throw, None for open.
        timings: pole letter → timing, where stated.
    """
    used = sorted({throw for throw in throw_at if throw is not None})
    if not used:
        return []
    return [
        Section(
            lugs=(lugs[0], *(lugs[throw] for throw in used)),
            groups=tuple(() if t is None else ((lugs[0], lugs[t]),) for t in throw_at),
            timing=timings.get(letter, "non-shorting"),
            timing_stated=letter in timings,
            pole=letter,
        )
        for letter, lugs in poles.items()
    ]


def sections_of_table(
    pieces: Sequence[Sequence[str]],
    groups: Sequence[Groups],
    timings: Mapping[int, Timing],
) -> list[Section]:
    """One section for each connected piece.

    Args:
        pieces: the lugs of each, as ``linked`` gives them.
        groups: per position of the control the groups closed there.
        timings: index of the piece → timing, where stated.
    """
    owner = {lug: index for index, piece in enumerate(pieces) for lug in piece}
    closed: list[list[list[tuple[str, ...]]]] = [[[] for _ in groups] for _ in pieces]
    for position, at_position in enumerate(groups):
        for group in at_position:
            closed[owner[group[0]]][position].append(group)
    return [
        Section(
            lugs=tuple(piece),
            groups=tuple(tuple(at_position) for at_position in closed[index]),
            timing=timings.get(index, "non-shorting"),
            timing_stated=index in timings,
            pole=None,
        )
        for index, piece in enumerate(pieces)
    ]


@makes(Switch)
def _switch(read: Read, reader: Reader) -> Any:
    """A switch; its lugs are noted even where faults leave the rest unknown."""
    found = _table(read, reader) if read.form == "table" else _plain(read, reader)
    if found is None:
        return BAD
    used = {lug for section in found["sections"] for lug in section.lugs}
    idle = tuple(lug for lug in found["terminals"] if lug not in used)
    switch: Switch = read.record(idle_lugs=idle, replaces=None, **found)
    if switch.layout is not None:
        _check_layout(switch, read, reader)
    if switch.style == "toggle" and switch.throws == 3:
        _ask_which_toggle(switch, read, reader)
    return switch


def _ask_which_toggle(switch: Switch, read: Read, reader: Reader) -> None:
    """Note that such a lever has three lugs to a pole (common practice, no source)."""
    control, poles = reader.controls[switch.control], len(switch.poles)
    named = control.positions if control is not None and len(control.positions) == 3 else ()
    first, middle, last = named or ("UP", "MIDDLE", "DOWN")
    off = f"switch: {form_named(poles, 2)}, positions: {{{first}: 1, {middle}: open, {last}: 2}}"
    reader.report.notice(
        read.key("switch").place,
        f"{switch.name}: a toggle of three positions usually has {3 * poles} lugs, not "
        f"{4 * poles}: if its middle is off, write {off}; if its middle closes as well (on-on-on), "
        "write switch: table with the contacts that you read (rewire identify switch)",
    )


def _check_layout(switch: Switch, read: Read, reader: Reader) -> None:
    """A fault where the layout cannot be; a notice where its throws run against the knob."""
    try:
        against = lug_positions(switch).against_the_knob
    except Wrong as wrong:
        said = f"layout of {switch.name}: {wrong.message}"
        reader.fault(read.key("layout"), said, wrong.hint)
        return
    if against:
        throws = "; ".join(", ".join(pole) for pole in against)
        lists = ", ".join(f"[{', '.join([p[0], *p[:0:-1]])}]" for p in switch.poles)
        reader.report.notice(
            read.key("layout").place,
            f"{switch.name}: seen from behind, {throws} run clockwise, so against a knob that is "
            f"turned clockwise; if the first position is at the other end, write lugs: [{lists}]; "
            "if the hours were read at the knob, read them from behind",
        )


def _plain(read: Read, reader: Reader) -> dict[str, Any] | None:
    """What a switch has that has poles and throws."""
    form = read_form(read.form)
    if form is None:
        _refuse_form(read, reader)
        return None
    if read.contacts is not None:
        hint = "write switch: table, or take the contacts out"
        reader.fault(read.key("contacts"), f"'contacts' does not go with {read.form}", hint)
    poles = _poles(read, form, reader) if reader.affords(form[0] * (form[1] + 1), read.head) else {}
    if not poles:
        return None
    lugs = tuple(lug for row in poles.values() for lug in row)
    control = _noted(lugs, read, "switch", reader)
    timings = _timings(read, poles, {}, reader)
    throw_at = _throw_at(read, form[1], control, reader) if control else None
    if throw_at is None or not reader.affords(len(poles) * len(throw_at), read.head):
        return None
    return {
        "terminals": lugs,
        "sections": tuple(sections_of_poles(poles, throw_at, timings)),
        "throws": form[1],
        "throw_at": tuple(throw_at),
        "poles": tuple(tuple(row) for row in poles.values()),
    }


def _table(read: Read, reader: Reader) -> dict[str, Any] | None:
    """What a switch has whose contacts are listed."""
    if read.contacts is None:
        hint = "write contacts: {POSITION: [[A, A1], …], …}"
        reader.fault(read.near("switch"), "a table needs 'contacts'", hint)
        return None
    lugs = _table_lugs(read, reader)
    if lugs is None or _lacks_commas(read, reader):
        return None
    if read.positions is not None:
        message = "'positions' does not go with a table"
        reader.fault(read.key("positions"), message, "use 'contacts'")
    control = _noted(lugs, read, "contacts", reader)
    groups = _groups(read, control, reader)
    pieces = linked(lugs, groups or ())
    contacts = len(lugs) + len(pieces) * len(groups or ())
    if groups is None or not reader.affords(contacts, read.head):
        return None
    others = {lug: -1 - index for index, lug in enumerate(lugs)}
    timings = _timings(read, dict(enumerate(pieces)), others, reader)
    sections = tuple(sections_of_table(pieces, groups, timings))
    return {
        "terminals": lugs, "sections": sections, "throws": None, "throw_at": None, "poles": (),
    }  # fmt: skip


def _noted(lugs: tuple[str, ...], read: Read, key: str, reader: Reader) -> Control | None:
    """Note its lugs, for names; the control that moves it."""
    check_lugs(lugs, read.near("lugs" if read.lugs else key).place, reader.report)
    reader.lugs[read.name] = lugs
    known = reader.has_control(read.control, read.near("control"))
    return reader.controls[read.control] if known else None


def _refuse_form(read: Read, reader: Reader) -> None:
    form, control = read.form, reader.controls.get(read.control)
    hint: Hint = Nearest(form, _FORMS)
    if re.fullmatch(r"([SDTQ]|[0-9]+)P([SDT]|[0-9]+)T", form.upper()):
        hint = "a switch has 1 to 60 poles and 1 to 60 throws"
    else:
        hint = spoken_form(form, control, read.entries) or hint
    reader.fault(read.near("switch"), f"{shown(form)} is not a switch form", hint)


def _poles(read: Read, form: tuple[int, int], reader: Reader) -> Poles:
    """The lugs of each pole; none, and a fault, where other lists are given."""
    letters, size = pole_letters(form[0]), form[1] + 1
    rows = read.lugs if read.lugs is not None else default_lugs(*form)
    if isinstance(rows, dict):
        rows = [rows[letter] for letter in letters] if set(rows) == set(letters) else []
    elif isinstance(rows[0], str):
        rows = [rows]
    if len(rows) == form[0] and all(len(row) == size for row in rows):
        return dict(zip(letters, rows, strict=True))
    throws = [f"throw {n}" for n in range(1, min(form[1], 3) + 1)]
    hint = f"for each pole write [common, {', '.join(throws)}{', …' if form[1] > 3 else ''}]"
    poles = f"{form[0]} pole{'s' if form[0] > 1 else ''} of {size} lugs"
    message = f"{read.form} has {poles}; other lists are given"
    reader.fault(read.near("lugs"), message, hint)
    return {}


def _timings(
    read: Read, owned: Mapping[_Owner, Sequence[str]], others: dict[str, _Owner], reader: Reader
) -> dict[_Owner, Timing]:
    """Section → its timing, where stated; lugs of no section own themselves, as in ``others``."""
    if read.timing is None or isinstance(read.timing, str):
        return dict.fromkeys(owned, cast(Timing, read.timing)) if read.timing else {}
    owner = others | {lug: one for one, lugs in owned.items() for lug in lugs}
    stated: dict[_Owner, Timing] = {}
    for lug, word in read.timing.items():
        key = read.key("timing", lug)
        if lug not in owner:
            reader.fault(key, f"timing: there is no lug {shown(lug)}", Nearest(lug, owner))
        elif stated.setdefault(owner[lug], word) != word:
            message = f"the section of {shown(lug)} has two timings"
            reader.fault(key, message, "name one lug of each section")
    return stated


def _throw_at(read: Read, throws: int, control: Control, reader: Reader) -> list[int | None] | None:
    """Per position its throw, None for open; None, and a fault, where that cannot be."""
    positions = len(control.positions)
    if read.positions is not None:
        return _stated_throws(read, throws, control, reader)
    if throws > 1 and positions <= throws:
        return list(range(1, positions + 1))
    message = f"{read.form} has {throws} throws, {control.name} has {positions} positions"
    stated = f"positions: {{{', '.join(_as_could_be(throws, control))}}}"
    hint = f"say which are open, such as {stated}, or write a form of {positions} throws"
    if throws == 1:
        message = f"{read.form} needs 'positions'"
        hint = f"write {stated}"
    reader.fault(read.near("switch"), message, hint)
    return None


def _as_could_be(throws: int, control: Control) -> Iterator[str]:
    """``UP: 1``: each position with its throw, the middle one of three open, else the last ones."""
    at = ["1", "open", "2"] if throws == 2 else [str(throw) for throw in range(1, throws + 1)]
    for position, throw in zip_longest(control.positions, at, fillvalue="open"):
        yield f"{position}: {throw}"


def _stated_throws(
    read: Read, throws: int, control: Control, reader: Reader
) -> list[int | None] | None:
    good = True
    stated: dict[str, int | None] = read.positions
    for position, throw in stated.items():
        good &= reader.has_position(control.name, position, read.key("positions", position))
        if throw is not None and throw > throws:
            by_throws = f"a switch of {throws} throw{'s' if throws > 1 else ''}"
            message = f"{by_throws} has no throw {throw}"
            reader.fault(read.near("positions", position), message, f"1 to {throws}, or open")
            good = False
    left = [position for position in control.positions if position not in stated]
    if left and good:
        message = f"{shown(left[0])} is not in 'positions': it is taken as open"
        reader.report.notice(read.key("positions").place, message)
    return [stated.get(position) for position in control.positions] if good else None


def _table_lugs(read: Read, reader: Reader) -> tuple[str, ...] | None:
    named = read.lugs if read.lugs is not None else []
    if isinstance(named, dict) or not all(isinstance(lug, str) for lug in named):
        hint = "write lugs: [one, other, …]"
        reader.fault(read.near("lugs"), "a table's lugs are one plain list", hint)
        return None
    if named:
        check_lugs(named, read.near("lugs").place, reader.report)
    grouped = [lug for _, _, group in _each_group(read) for lug in group]
    if not named and not grouped:
        reader.fault(read.near("contacts"), "this table names no lug at all")
        return None
    return tuple(dict.fromkeys([*named, *grouped]))


def _each_group(read: Read) -> Iterator[tuple[str, int, list[str]]]:
    """Position, number and lugs of every group of contacts."""
    for position, groups in read.contacts.items():
        yield from ((position, number, group) for number, group in enumerate(groups))


def _groups(read: Read, control: Control | None, reader: Reader) -> list[Groups] | None:
    """Per position the groups closed there; None where faults leave that unknown."""
    good = True
    for position in read.contacts if control is not None else ():
        key = read.key("contacts", position)
        good &= reader.has_position(read.control, position, key)
    good &= _check_groups(read, reader)
    if control is None or not good:
        return None
    return [
        tuple(tuple(group) for group in read.contacts.get(position, ()))
        for position in control.positions
    ]


def _lacks_commas(read: Read, reader: Reader) -> bool:
    """Whether two lugs stand as one somewhere in the contacts; a fault for each such place."""
    found = False
    for position, number, group in _each_group(read):
        for forgotten in filter(None, map(two_in_one, group)):
            reader.fault(read.near("contacts", position, number), *forgotten)
            found = True
    return found


def _check_groups(read: Read, reader: Reader) -> bool:
    good = True
    seen: set[tuple[str, str]] = set()
    for position, number, group in _each_group(read):
        at = read.near("contacts", position, number)
        if len(group) < 2:
            hint = "leave it out: what is not listed closes nothing"
            reader.fault(at, f"in {shown(position)}: a group of one lug", hint)
            good = False
        for lug in group:
            if (position, lug) in seen:
                hint = "lugs that are closed together make one group"
                reader.fault(at, f"in {shown(position)}: {shown(lug)} closes twice", hint)
                good = False
            seen.add((position, lug))
    return good


class FormSaid(NamedTuple):
    """A form as people say it, with all that was said beside it."""

    form: str
    off: bool = False
    """Whether the middle position closes nothing."""
    beside: Mapping[str, str] = {}
    """Style and timing, where said, as they are written behind keys of their own."""


def spoken_form(
    text: str, control: Control | None = None, given: Collection[str] = ()
) -> str | None:
    """What to write for a form as people say it; None where it is no such saying.

    Args:
        text: what was said.
        control: what moves the switch, where known.
        given: keys that the switch has already.

    >>> spoken_form("2 pole 6 way"), spoken_form("DP3T rotary shorting")
    ('write DP6T', 'write DP3T, with style: rotary, timing: shorting')
    """
    if _in_pairs(text):
        return "such a toggle links its lugs in pairs: read it out lug by lug and write a table"
    meant = form_said(text)
    if meant is None:
        return None
    keys = [f"{key}: {value}" for key, value in meant.beside.items() if key not in given]
    known = control.positions if control is not None else ()
    if meant.off:
        first, middle, last = known if len(known) == 3 else ("UP", "MIDDLE", "DOWN")
        keys.append(f"positions: {{{first}: 1, {middle}: open, {last}: 2}}")
    hint = f"write {meant.form}, with {', '.join(keys)}" if keys else f"write {meant.form}"
    few = meant.off and control is not None and len(known) != 3
    return f"{hint}; its control needs three positions for that" if few else hint


def form_said(text: str) -> FormSaid | None:
    """The form that is meant, with style and timing where said; None if it is no saying.

    >>> form_said("DPDT centre off")
    FormSaid(form='DPDT', off=True, beside={})
    >>> form_said("4P4T rotary, two wafers, C shorting").beside
    {'style': 'rotary', 'timing': '{C: shorting}'}
    >>> form_said("on-on-on") is form_said("3X4T") is None
    True
    """
    said = _plain_words(text)
    off = bool(re.search(r"cent(re|er) off|on off on", said))
    written = next(
        (form for word in re.split("[ ,]+", said.upper()) if (form := read_form(word))), None
    )
    poles = _counted(said, r"(?:poles?|p|gangs?)\b") or (written[0] if written else 0)
    if not poles and len(re.findall(r"\d+", said)) > 1:
        return None
    poles = poles or (2 if re.search(r"\bdp\b", said) else 1)
    throws = _counted(said, r"(?:ways?|throws?|positions?|pos|t)\b") or (
        written[1] if written else 0
    )
    if off or re.search(r"change ?over|\bon on\b", said):
        throws = 2
    elif not throws and re.search(r"\bon off\b|\boff on\b", said):
        throws = 1
    if _in_pairs(text) or not throws or not read_form(form_named(poles, throws)):
        return None
    return FormSaid(form_named(poles, throws), off, _said_beside(text))


def _said_beside(text: str) -> dict[str, str]:
    """Style and timing, of all poles or of those that are named by their letters."""
    plain = " ".join(re.sub(r"[-()]", " ", text).split())
    found = {}
    style = re.search(r"\b(toggle|rotary|slide|push|relay|jack)", plain.lower())
    if style:
        found["style"] = style[1]
    timings = [(said[1] or "", _TIMING_OF[said[2].lower()]) for said in _TIMING.finditer(plain)]
    by_pole = {pole: timing for poles, timing in timings for pole in re.findall(r"[A-Z]\b", poles)}
    if by_pole:
        found["timing"] = f"{{{', '.join(f'{pole}: {by_pole[pole]}' for pole in by_pole)}}}"
    elif timings:
        found["timing"] = timings[0][1]
    return found


def _plain_words(text: str) -> str:
    """Small letters, blanks alone between words; a throw that springs back is an on like another.

    >>> _plain_words("DPDT (on)-off-(on)"), _plain_words("on-off-mom")
    ('dpdt on off on', 'on off on')
    """
    said = " ".join(re.sub(r"[-()]", " ", text.lower()).split())
    return re.sub(rf"(?:(?<=\boff )|(?<=\bon )){_SPRINGS}|\b{_SPRINGS}(?= off\b)", "on", said)


def _in_pairs(text: str) -> bool:
    return "on on on" in _plain_words(text)


def _counted(said: str, what: str) -> int:
    """How many of something, in figures or in words; 0 where it is not said."""
    match = re.search(rf"({'|'.join(_COUNTS)}|[0-9]{{1,3}}) ?{what}", said)
    return 0 if match is None else _COUNTS.get(match[1]) or int(match[1])
