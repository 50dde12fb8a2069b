"""The springs of a relay or jack beside the column of their lugs, and what moves them."""

from __future__ import annotations

from collections.abc import Mapping

from rewire.draw.lugview.contacts import Contact, Pile
from rewire.draw.lugview.lugs import Face
from rewire.draw.measure import line_mm, middle_baseline, text_at
from rewire.draw.scene import XY, Box, Item, Line, Symbol

ROOM = 44.0
"""Beside the lugs, mm."""
HEAD = 10.0
"""Over the topmost spring, where what moves the springs is drawn and named, mm."""
_CONTACT = 13.0
"""From the edge of the lug to the nearest contact, mm."""
_NEXT = 4.0
"""From one contact to the contact that reaches over it, mm."""
_TIP = 31.0
"""From the edge of the lug to the end of a moving spring, mm."""
_GAP = 1.5
"""Between an open contact and the spring that will touch it, mm."""
_POINT = 0.8
_SMALL = 7.0
_SAID: Mapping[str, tuple[str, str]] = {
    "relay": ("coil (its two lugs are", "not in this spec)"),
    "jack": ("bushing in the panel:", "the plug comes in here"),
}


def springs(
    pile: Pile, at: Mapping[str, XY], faces: Mapping[str, Face], net_of: Mapping[str, str]
) -> list[Item]:
    """Every spring from its lug, contacts, and the coil or the bushing; mm as ``at``."""
    shown = [c for c in pile.contacts if c.moving in at and c.fixed in at]
    items: list[Item] = []
    for lug in dict.fromkeys(c.moving for c in shown):
        items.append(_moving(pile, lug, at[lug], faces[lug], net_of[lug]))
    for contact in shown:
        items.extend(_fixed(pile, contact, at, faces, net_of))
    if shown:
        moving = [at[lug] for lug in dict.fromkeys(c.moving for c in shown)]
        roof = min(y for _, y in at.values()) - HEAD
        items.extend(_mover(pile, moving, faces[shown[0].moving], roof))
    return items


def _edge(pile: Pile, at: XY, face: Face) -> float:
    """Where a spring leaves its lug."""
    return at[0] - pile.facing * face.width / 2


def _moving(pile: Pile, lug: str, at: XY, face: Face, net: str) -> Line:
    """A long spring; that of a jack ends in the bend that holds the plug."""
    x, y = _edge(pile, at, face), at[1]
    out = -pile.facing
    end: tuple[XY, ...] = ((x + out * _TIP, y),)
    if pile.kind == "jack":
        end = ((x + out * (_TIP - 5.0), y), (x + out * (_TIP - 2.5), y + 1.8),
               (x + out * _TIP, y - 0.6))  # fmt: skip
    return Line(((x, y), *end), f"spring:{lug}", net, (f"lug:{lug}",), width=0.7)


def _fixed(
    pile: Pile,
    contact: Contact,
    at: Mapping[str, XY],
    faces: Mapping[str, Face],
    net_of: Mapping[str, str],
) -> list[Item]:
    """A short spring with its contact, which touches the moving spring or stays off it."""
    lug = contact.fixed
    x, y = _edge(pile, at[lug], faces[lug]), at[lug][1]
    tip = x - pile.facing * (_CONTACT + _NEXT * (contact.rank - 1))
    moving = at[contact.moving][1]
    towards = 1.0 if moving > y else -1.0
    point = moving - towards * (0.35 if contact.closed else _GAP)
    shows, joins = f"spring:{lug}", (f"lug:{lug}",)
    tipped = (
        (tip - _POINT, point - towards * 1.5), (tip, point), (tip + _POINT, point - towards * 1.5)
    )  # fmt: skip
    return [
        Line(((x, y), (tip, y)), shows, net_of[lug], joins, width=0.45),
        Line(((tip, y), (tip, point)), shows, None, joins, width=0.45),
        Line(tipped, shows, None, joins, width=0.45),
    ]


def _mover(pile: Pile, moving: list[XY], face: Face, roof: float) -> list[Item]:
    """What moves the springs: the coil over their far ends, or the bushing before them."""
    tip = _edge(pile, moving[0], face) - pile.facing * _TIP
    if pile.kind == "relay":
        return _coil(pile, tip + pile.facing * 2.5, [y for _, y in moving], roof)
    return _bushing(pile, tip, [y for _, y in moving], roof)


def _coil(pile: Pile, x: float, heights: list[float], roof: float) -> list[Item]:
    """Linked to every moving spring by the armature."""
    box = Box(x - 3.5, roof + 0.8, x + 3.5, roof + 5.8)
    away = x - pile.facing * 3.5
    stubs = [
        Line(((away, y), (away - pile.facing * 3.0, y)), "coil", None, width=0.4)
        for y in (box.top + 1.2, box.bottom - 1.2)
    ]
    arm = ((x, box.bottom), (x, max(heights)))
    return [
        Symbol("coil", box, "coil", width=0.4),
        *stubs,
        Line(arm, "coil", None, width=0.3, dash="dashed"),
        *_words(pile, x + pile.facing * 5.0, roof + 2.0),
    ]


def _bushing(pile: Pile, tip: float, heights: list[float], roof: float) -> list[Item]:
    """In the panel, the plug's way through it; about level with the springs it meets first."""
    y = sum(heights[:2]) / len(heights[:2]) + (4.0 if len(heights) == 1 else 0.0)
    out = -pile.facing
    inner, flange, outer = tip + out * 1.5, tip + out * 6.5, tip + out * 8.0
    tube = Box(min(inner, flange), y - 4.0, max(inner, flange), y + 4.0)
    rim = Box(min(flange, outer), y - 7.0, max(flange, outer), y + 7.0)
    axis = ((outer + out * 2.5, y), (tip + pile.facing * 3.0, y))
    return [
        Symbol("bushing", tube, "bushing", width=0.4),
        Symbol("bushing", rim, "bushing's rim", width=0.4, fill="#d0d0d0"),
        Line(axis, "bushing", None, ("bushing's rim",), width=0.3, dash="dashdot"),
        *_words(pile, min(outer, inner) if pile.facing > 0 else max(outer, inner),
                roof + 2.0),
    ]  # fmt: skip


def _words(pile: Pile, x: float, y: float) -> list[Item]:
    align = "left" if pile.facing > 0 else "right"
    return [
        text_at(line, x, middle_baseline(y + number * line_mm(_SMALL), _SMALL), _SMALL,
                align=align, shows="words")
        for number, line in enumerate(_SAID[pile.kind])
    ]  # fmt: skip
