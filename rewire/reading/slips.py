"""Where YAML itself is broken: what the parser stumbled over, in words for whoever typed it."""

from __future__ import annotations

import re
from collections.abc import Callable, Collection, Iterator, Sequence
from dataclasses import dataclass
from typing import Any

from rewire.words.quantity import without_comma
from rewire.words.wording import shown

QUOTE = "put text that holds ': ', ' #' or a comma in quotes"
IN_QUOTES = "a comma inside a text begins a new key: put the text in quotes"
_ONE_PAIR = "put the whole text in one pair of quotes, \" where ' stands in it"
_OTHER_QUOTE = "write the same sign at its end, and the other kind around a text that holds it"
_ALIKE = "indent keys that belong together alike, and the items of a list too"
_ENDS = re.compile("\r\n|[\n\r\x85\u2028\u2029]")
_COMMENT = re.compile(r"(^|\s)#.*")
_KEY_END = re.compile(r":\s")
_CLOSING = {"[": "]", "{": "}"}

Spot = tuple[int, int]
"""Line and column, both from 0."""
Slip = tuple[Spot, str, str]
"""Where it is, what is wrong, and a way out."""


@dataclass(frozen=True, slots=True)
class Stumble:
    """How far a parser got, and what it said."""

    lines: Sequence[str]
    """Of the file."""
    problem: str
    begun: Spot
    """Start of the list, mapping or text being parsed."""
    met: Spot
    """Where it stopped."""
    bracket: Spot | None
    """The innermost that is open."""
    last: Any
    """The parser's event of the last text that it read, if any."""

    @property
    def line(self) -> str:
        """The line in which it stopped."""
        return self.text_of(self.met[0])

    @property
    def last_begun(self) -> Spot:
        """Where the last text begins."""
        return self.last.start_mark.line, self.last.start_mark.column

    def text_of(self, number: int) -> str:
        """A line; empty past the last."""
        return self.lines[number] if number < len(self.lines) else ""

    def sign_at(self, spot: Spot) -> str:
        """What stands at a spot; empty behind the end of its line."""
        return self.text_of(spot[0])[spot[1] : spot[1] + 1]

    def above(self) -> Iterator[tuple[int, str]]:
        """The lines above, upwards, without comments; those that hold nothing are left out."""
        for n in range(min(self.met[0], len(self.lines)) - 1, -1, -1):
            text = _COMMENT.sub("", self.lines[n])
            if text.strip():
                yield n, f"{text} "


def yaml_lines(text: str) -> list[str]:
    """The lines of a text as YAML counts them."""
    return _ENDS.split(text)


def after_comma(key: str, before: str) -> tuple[str, str] | None:
    """A number that a comma inside {…} tore in two: what is wrong, and the way out; else None."""
    number = f"{before},{key}"
    if not re.fullmatch(r"[-+]?[0-9]+,[0-9].*", number, re.DOTALL):
        return None
    return f"{shown(number)} has a comma in the number", without_comma(number)


def lacks_colon(key: str, known: Collection[str]) -> tuple[str, str] | None:
    """What is wrong with a key that holds its value (``switch DPDT``), and the way out.

    >>> lacks_colon("switch:DPDT", ["switch"])
    ("no ': ' in 'switch:DPDT'", 'write switch: DPDT')
    """
    word, value = [*re.split(r":| +", key, maxsplit=1), ""][:2]
    if word not in known or not value.strip():
        return None
    return f"no ': ' in {shown(key)}", f"write {word}: {value.strip()}"


def lacks_space(text: str) -> tuple[str, str] | None:
    """What is wrong with ``GND:{chassis: yes}``, and the way out; None for any other text.

    >>> lacks_space("GND:{chassis: yes}")
    ("a space is missing after 'GND:'", 'write GND: {chassis: yes}')
    """
    found = re.match(r"([^\s:'\"{}\[\],]+:)([\[{].*)", _COMMENT.sub("", text))
    if found is None:
        return None
    return f"a space is missing after {shown(found[1])}", f"write {found[1]} {found[2].strip()}"


def slip_of(at: Stumble) -> Slip:
    """The slip that stopped the parser."""
    if at.last is not None and at.last.style in ("'", '"'):
        begun, end = at.last_begun, at.last.end_mark.line
        if begun[0] < end == at.met[0]:
            hint = f"close it where its text ends, or mend what follows it in line {end + 1}"
            return begun, f"this quote is closed in line {end + 1}, no sooner", hint
    tell = next((tell for words, tell in _TOLD.items() if re.match(words, at.problem)), None)
    return tell(at) if tell else (at.met, f"not readable as YAML: {at.problem}", QUOTE)


def _indent_of(line: str, signs: str = " ") -> int:
    """Column of the first sign of a line that is none of these."""
    return len(line) - len(line.lstrip(signs))


def _in_brackets(at: Stumble) -> Slip:
    """A list in […] or a mapping in {…} that breaks off."""
    opened = at.bracket or at.begun
    sign, met, before = at.sign_at(opened), at.sign_at(at.met), at.line[: at.met[1]].rstrip()
    piece = re.split(r"[,{\[]|:\s", before)[-1]
    starts_line = bool(piece.strip()) and piece.strip() == before.strip()
    is_past = opened[0] < at.met[0] and (
        _indent_of(at.line) <= _indent_of(at.text_of(opened[0]), " -")
    )
    if not at.line[at.met[1] :].strip() or (starts_line and sign == "[") or is_past:
        cut = any(re.search(r"\s#", line) for line in at.lines[opened[0] : at.met[0] + 1])
        way_out = f"write {_CLOSING.get(sign, 'it')} where it ends"
        return (
            opened,
            f"this '{sign}' is not closed",
            f"' #' cuts a line short: {QUOTE}" if cut else way_out,
        )
    if met in "]}":
        closing = _CLOSING.get(sign, "another")
        return at.met, f"'{met}' stands where '{closing}' should", f"write {closing}"
    if met != ":":
        return _comma_before(at, at.met[1])
    if starts_line:
        return _comma_before(at, _indent_of(at.line))
    if len(piece.split()) > 1:
        return _comma_before(at, before.rfind(" ") + 1)
    return at.met, "a second ': ' in one value", QUOTE


def _comma_before(at: Stumble, column: int) -> Slip:
    text = at.line[column:]
    word = re.split(r"[\s,:\]}]", text)[0] or text[:1]
    return (at.met[0], column), f"a comma is missing before {shown(word)}", f"write one, or {QUOTE}"


def _glued(at: Stumble) -> Slip:
    """A key inside {…} with its list or mapping right behind the colon."""
    start = at.met[1] - len(re.split(r"[\s,{\[]", at.line[: at.met[1]])[-1])
    key = shown(at.line[start : at.met[1] + 1])
    return (at.met[0], start), f"a space is missing after {key}", "write one"


def _escape(at: Stumble) -> Slip:
    sign = at.line[at.met[1] :].removeprefix("\\")[:1]
    hint = "write \\\\ for a backslash, or put the text in single quotes"
    return at.met, f"a backslash before '{sign}' means nothing in a text", hint


def _lacks_colon(at: Stumble, spot: Spot | None = None) -> Slip:
    line, column = spot or at.begun
    text = _COMMENT.sub("", at.text_of(line)[column:]).strip()
    if re.fullmatch(r"[A-Za-z_]+", text):
        return (line, column), f"a colon is missing after {shown(text)}", f"write {text}:"
    if re.match(r"[\[{].*[\]}]$", text):
        return (line, column), f"{shown(text)} stands where a key should", f"write - {text}"
    if re.match(r"-[^\s-]", text):
        return (line, column), f"a space is missing in {shown(text)}", f"write - {text[1:]}"
    hint = "write key: value; indent a line further that goes on with the text above"
    return (line, column), *(lacks_space(text) or (f"no ': ' in {shown(text)}", hint))


def _second_colon(at: Stumble) -> Slip:
    deep = _indent_of(at.line)
    start = _indent_of(at.line, " -")
    glued = lacks_space(at.line[start:])
    if glued is not None:
        return (at.met[0], start), *glued
    above = _begins_above(at, deep)
    if above is None or _KEY_END.search(at.line[: at.met[1]].lstrip(" -")):
        return at.met, "a second ': ' in one line", QUOTE
    number, text = above
    if not _KEY_END.search(text):
        return _lacks_colon(at, (number, _indent_of(text, " -")))
    message = f"this line stands deeper than line {number + 1}, which has its value"
    return (at.met[0], deep), message, _ALIKE


def _begins_above(at: Stumble, deep: int) -> tuple[int, str] | None:
    """The first line of a text that goes on as deep as here; else the line it stands under."""
    found = None
    for number, text in at.above():
        if _indent_of(text) < deep:
            return found or (number, text)
        if _KEY_END.search(text):
            return found
        found = (number, text)
    return found


def _unlike(at: Stumble) -> Slip:
    """Something that is neither the next key nor the next item."""
    before, rest = at.line[: at.met[1]].rstrip(), at.line[at.met[1] :]
    if rest[:1] in ("]", "}"):
        return at.met, f"'{rest[0]}' closes nothing", "take it out, or open it"
    if before.endswith(("'", '"')):
        return at.met, "text behind a closed quote", _ONE_PAIR
    if before.endswith(("]", "}")):
        return at.met, f"text behind '{before[-1]}'", "take it out, or write it inside"
    if rest.startswith(":"):
        return at.met, "a ':' with no key before it", "write key: value"
    number, text = next(at.above(), (0, ""))
    spot = (number, _indent_of(text, " -"))
    is_text = at.last is not None and not at.last.style and at.last_begun == spot
    if is_text and " " in text.strip(" -"):
        return _lacks_colon(at, spot)
    if rest.startswith("- ") and at.sign_at(at.begun) != "-":
        return at.met, "an item of a list where a key should be", _ALIKE
    return at.met, "this line is indented unlike any line above it", _ALIKE


def _no_beginning(at: Stumble) -> Slip:
    sign = at.sign_at(at.met)
    if sign == "\t":
        return at.met, "a tab before a text", "use spaces"
    return at.met, f"a text cannot begin with '{sign}'", "put the text in quotes"


def _no_alias(at: Stumble) -> Slip:
    message = f"'{at.sign_at(at.begun)}' at the beginning of a text means something else in YAML"
    return at.begun, message, "put the text in quotes"


_TOLD: dict[str, Callable[[Stumble], Slip]] = {
    r"(did not find )?expected (',' or|(the )?node content)": _in_brackets,
    r"found unexpected (end of stream|document separator)":
        lambda at: (at.begun, "this quote is not closed", _OTHER_QUOTE),
    r"found unexpected ':'": _glued,
    r"found unknown escape|(did not find )?expected .*hexdecimal": _escape,
    r"could not find expected ':'": _lacks_colon,
    r"mapping values are not allowed": _second_colon,
    r"did not find expected (key|'-')|expected <block end>": _unlike,
    r"found character .*that cannot start any token": _no_beginning,
    r"(did not find )?expected alphabetic or numeric": _no_alias,
    r"second occurrence":
        lambda at: (at.met, "this anchor (&) is there twice", "give the second another name"),
    r"(did not find )?expected '?<document start>":
        lambda at: (at.met, "this line stands left of the first key", _ALIKE),
}  # fmt: skip
"""What libyaml, or PyYAML without it, says → what it comes from."""
