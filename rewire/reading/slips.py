"""Where YAML itself is broken: what the parser stumbled over, in words for whoever typed it."""

from __future__ import annotations

import re
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass

from rewire.words.quantity import without_comma
from rewire.words.wording import shown

QUOTE = "put text that holds ': ', ' #' or a comma in quotes"
IN_QUOTES = "a comma inside a text begins a new key: put the text in quotes"
_ONE_PAIR = "put the whole text in one pair of quotes, \" where ' stands in it"
_OTHER_QUOTE = "write the same sign at its end, and the other kind around a text that holds it"
_ALIKE = "indent the keys of one mapping, and the items of one list, alike"
_ENDS = re.compile("\r\n|[\n\r\x85\u2028\u2029]")
_COMMENT = re.compile(r"(^|\s)#.*")
_BEHIND_COLON = re.compile(r":\s")
_CLOSING = {"[": "]", "{": "}"}
_LONGEST_SHOWN = 60

Spot = tuple[int, int]
"""Line and column, both from 0."""


@dataclass(frozen=True, slots=True)
class Slip:
    """What is wrong, where, and a way out."""

    at: Spot
    message: str
    hint: str


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
    quoted: tuple[Spot, Spot] | None
    """Beginning and end of the last text in quotes, if it is longer than a line."""
    unquoted: Spot | None
    """Beginning of the last text, if it is in no quotes and no block."""

    @property
    def line(self) -> str:
        """The line in which it stopped."""
        return self.text_of(self.met[0])

    def text_of(self, number: int) -> str:
        """A line; empty past the last."""
        return self.lines[number] if number < len(self.lines) else ""

    def above(self, number: int) -> Iterator[tuple[int, str]]:
        """The lines above one, upwards, without comments; those that hold nothing are left out."""
        for n in range(min(number, len(self.lines)) - 1, -1, -1):
            text = _COMMENT.sub("", self.lines[n])
            if text.strip():
                yield n, f"{text} "


def yaml_lines(text: str) -> list[str]:
    """The lines of a text as YAML counts them."""
    return _ENDS.split(text)


def after_comma(key: str, before: str) -> tuple[str, str] | None:
    """What a comma inside {…} tore off a number: told, and the way out; None for anything else."""
    number = f"{before},{key}"
    if not re.fullmatch(r"[-+]?[0-9]+,[0-9].*", number, re.DOTALL):
        return None
    return f"{shown(number)} has a comma in the number", without_comma(number)


def indent_of(line: str) -> int:
    """Blanks before the first sign of a line."""
    return len(line) - len(line.lstrip(" "))


def slip_of(at: Stumble) -> Slip:
    """What it comes from that a parser stumbled."""
    if at.quoted is not None and at.quoted[1][0] == at.met[0]:
        begun, last = at.quoted[0], at.quoted[1][0] + 1
        hint = f"close it where its text ends, or mend what follows it in line {last}"
        return Slip(begun, f"this quote is closed in line {last}, no sooner", hint)
    tell = next((tell for words, tell in _TOLD if words.match(at.problem)), None)
    if tell is not None:
        return tell(at)
    return Slip(at.met, f"not readable as YAML: {at.problem}", QUOTE)


def _said(text: str) -> str:
    """Part of a line, for a message."""
    whole = text.strip()
    return f"'{whole}'" if len(whole) <= _LONGEST_SHOWN else f"'{whole[:_LONGEST_SHOWN]}…'"


def _first_sign(line: str) -> int:
    """Column of the first key or text of a line, behind the dashes of lists."""
    return len(line) - len(line.lstrip(" -"))


def _in_brackets(at: Stumble) -> Slip:
    """A list in […] or a mapping in {…} that breaks off."""
    opened = at.bracket or at.begun
    sign, here = at.text_of(opened[0])[opened[1] : opened[1] + 1], at.line
    piece = re.split(r"[,{\[]|:\s", here[: at.met[1]].rstrip())[-1]
    starts_line = bool(piece.strip()) and piece.strip() == here[: at.met[1]].strip()
    if not here[at.met[1] :].strip() or (starts_line and sign == "[") or _is_past(opened, at):
        return _not_closed(opened, sign, at)
    met = here[at.met[1]]
    if met in "]}":
        closing = _CLOSING.get(sign, "another")
        return Slip(at.met, f"'{met}' stands where '{closing}' should", f"write {closing}")
    if met != ":":
        return _comma_before(at.met, here)
    if starts_line:
        return _comma_before((at.met[0], indent_of(here)), here)
    if len(piece.split()) > 1:
        return _comma_before((at.met[0], here[: at.met[1]].rstrip().rfind(" ") + 1), here)
    return Slip(at.met, "a second ': ' in one value", QUOTE)


def _is_past(opened: Spot, at: Stumble) -> bool:
    """Whether the parser ran out of the entry in which a bracket stands."""
    return at.met[0] > opened[0] and indent_of(at.line) <= _first_sign(at.text_of(opened[0]))


def _not_closed(opened: Spot, sign: str, at: Stumble) -> Slip:
    cut = any(re.search(r"\s#", line) for line in at.lines[opened[0] : at.met[0] + 1])
    way_out = f"write {_CLOSING.get(sign, 'it')} where it ends"
    hint = f"' #' cuts a line short: {QUOTE}" if cut else way_out
    return Slip(opened, f"this '{sign}' is not closed", hint)


def _comma_before(spot: Spot, line: str) -> Slip:
    text = line[spot[1] :]
    word = re.split(r"[\s,:\]}]", text)[0] or text[:1]
    return Slip(spot, f"a comma is missing before {_said(word)}", f"write one, or {QUOTE}")


def _escape(at: Stumble) -> Slip:
    sign = at.line[at.met[1] :].removeprefix("\\")[:1]
    hint = "write \\\\ for a backslash, or put the text in single quotes"
    return Slip(at.met, f"a backslash before '{sign}' means nothing in a text", hint)


def _open_quote(at: Stumble) -> Slip:
    return Slip(at.begun, "this quote is not closed", _OTHER_QUOTE)


def _no_colon(at: Stumble) -> Slip:
    return _lacks_colon(at.begun, at)


def _lacks_colon(spot: Spot, at: Stumble) -> Slip:
    text = _COMMENT.sub("", at.text_of(spot[0])[spot[1] :])
    hint = "write key: value; a text that goes on from the line above stands deeper"
    return Slip(spot, f"no ': ' in {_said(text)}", hint)


def _second_colon(at: Stumble) -> Slip:
    if _BEHIND_COLON.search(at.line[: at.met[1]].lstrip(" -")):
        return Slip(at.met, "a second ': ' in one line", QUOTE)
    deep = indent_of(at.line)
    above = _begins_above(at, deep)
    if above is None:
        return Slip(at.met, "a second ': ' in one line", QUOTE)
    number, text = above
    if not _BEHIND_COLON.search(text):
        return _lacks_colon((number, _first_sign(text)), at)
    message = f"this line stands deeper than line {number + 1}, which has its value"
    return Slip((at.met[0], deep), message, _ALIKE)


def _begins_above(at: Stumble, deep: int) -> tuple[int, str] | None:
    """The first line of a text that goes on as deep as here; else the line it stands under."""
    found = None
    for number, text in at.above(at.met[0]):
        if indent_of(text) < deep:
            return found or (number, text)
        if _BEHIND_COLON.search(text):
            return found
        found = (number, text)
    return found


def _unlike(at: Stumble) -> Slip:
    """Something that is neither the next key nor the next item."""
    before, rest = at.line[: at.met[1]].rstrip(), at.line[at.met[1] :]
    if rest[:1] in ("]", "}"):
        return Slip(at.met, f"'{rest[0]}' closes nothing", "take it out, or open it")
    if before.endswith(("'", '"')):
        return Slip(at.met, "text behind a closed quote", _ONE_PAIR)
    if before.endswith(("]", "}")):
        return Slip(at.met, f"text behind '{before[-1]}'", "take it out, or write it inside")
    if rest.startswith(":"):
        return Slip(at.met, "a ':' with no key before it", "write key: value")
    number, text = next(at.above(at.met[0]), (0, ""))
    is_text = at.unquoted is not None and at.unquoted == (number, _first_sign(text))
    if is_text and " " in text.strip(" -"):
        return _lacks_colon((number, _first_sign(text)), at)
    in_list = at.text_of(at.begun[0])[at.begun[1] : at.begun[1] + 1] == "-"
    if rest.startswith("- ") and not in_list:
        return Slip(at.met, "an item of a list where a key should be", _ALIKE)
    return Slip(at.met, "the indent of this line fits none above it", _ALIKE)


def _no_document(at: Stumble) -> Slip:
    return Slip(at.met, "this line stands left of the first key", _ALIKE)


def _no_beginning(at: Stumble) -> Slip:
    sign = at.line[at.met[1] : at.met[1] + 1]
    if sign == "\t":
        return Slip(at.met, "a tab before a text", "use blanks")
    return Slip(at.met, f"a text cannot begin with '{sign}'", "put the text in quotes")


def _no_alias(at: Stumble) -> Slip:
    sign = at.text_of(at.begun[0])[at.begun[1] : at.begun[1] + 1]
    message = f"'{sign}' at the beginning of a text means something else in YAML"
    return Slip(at.begun, message, "put the text in quotes")


_TOLD: tuple[tuple[re.Pattern[str], Callable[[Stumble], Slip]], ...] = tuple(
    (re.compile(words), tell)
    for words, tell in (
        (r"(did not find )?expected (',' or|(the )?node content)", _in_brackets),
        (r"found unexpected (end of stream|document separator)", _open_quote),
        (r"found unknown escape|(did not find )?expected .*hexdecimal", _escape),
        (r"could not find expected ':'", _no_colon),
        (r"mapping values are not allowed", _second_colon),
        (r"did not find expected (key|'-')|expected <block end>", _unlike),
        (r"found character .*that cannot start any token", _no_beginning),
        (r"(did not find )?expected alphabetic or numeric", _no_alias),
        (r"(did not find )?expected '?<document start>", _no_document),
    )
)
"""What libyaml, or PyYAML without it, says → what it comes from."""
