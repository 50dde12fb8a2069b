"""The spec, and the bench log, that a sheet carries: taken out of a PDF or a page again."""

from __future__ import annotations

import json
import re
from dataclasses import dataclass

SPEC, LOG = "spec of this sheet", "bench log of this sheet"
"""What the attachments of a PDF are described as."""
_DATA = re.compile(rb'<script type="application/json" id="data">(.*?)</script>', re.DOTALL)


@dataclass(frozen=True, slots=True)
class Carried:
    """What a sheet was made from."""

    name: str
    """Of the spec's file, without its folder."""
    spec: bytes
    log: bytes | None = None


def carried_by(sheet: bytes) -> Carried | None:
    """What a PDF or a page of this program was made from; None where it carries no spec."""
    return _in_pdf(sheet) if sheet.lstrip()[:5] == b"%PDF-" else _in_page(sheet)


def _in_page(page: bytes) -> Carried | None:
    match = _DATA.search(page)
    if match is None:
        return None
    try:
        told = json.loads(match[1])
    except ValueError:
        return None
    source, log = told.get("source"), told.get("log")
    if not isinstance(source, str):
        return None
    name = str(told.get("file") or "")
    return Carried(name, source.encode(), log.encode() if isinstance(log, str) else None)


def _in_pdf(pdf: bytes) -> Carried | None:
    from io import BytesIO

    from pypdf import PdfReader
    from pypdf.errors import PyPdfError

    try:
        attached = {str(one.description): one for one in PdfReader(BytesIO(pdf)).attachment_list}
        spec, log = attached.get(SPEC), attached.get(LOG)
        if spec is None:
            return None
        return Carried(spec.name, spec.content, log.content if log else None)
    except (PyPdfError, LookupError, ValueError, TypeError, AttributeError, RecursionError):
        return None  # whatever is broken in it, nothing can be taken out
