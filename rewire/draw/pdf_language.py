"""The language of a PDF, which matplotlib has no word for.

A reader for the blind needs to know it. The catalogue is written a second time
at the end of the file with the language in it: an incremental update as ISO
32000-1:2008, 7.5.6 lays down; the key is ``Lang`` of 7.7.2, table 28.
"""

from __future__ import annotations

import re


def in_language(pdf: bytes, language: str) -> bytes:
    """The same file with its language noted, for example ``en``.

    Raises:
        ValueError: the bytes are no PDF with a plain cross-reference table.
    """
    root = re.search(rb"/Root (\d+) 0 R", pdf)
    size = re.search(rb"/Size (\d+)", pdf)
    info = re.search(rb"/Info \d+ 0 R", pdf)
    start = re.search(rb"startxref\s+(\d+)\s+%%EOF\s*$", pdf)
    if root is None or size is None or start is None:
        raise ValueError("not a PDF with a plain cross-reference table")
    number = root[1]
    body = re.search(rb"(?<!\d)" + number + rb" 0 obj\s*<<(.*?)>>\s*endobj", pdf, re.DOTALL)
    if body is None:
        raise ValueError("the PDF's catalogue was not found")
    head = pdf if pdf.endswith(b"\n") else pdf + b"\n"
    catalogue = number + b" 0 obj\n<<" + body[1] + b"/Lang (" + language.encode() + b")"
    catalogue += b" /ViewerPreferences << /DisplayDocTitle true >> >>\nendobj\n"
    free = b"0 1\n0000000000 65535 f \n"
    table = b"xref\n%s%s 1\n%010d 00000 n \n" % (free, number, len(head))
    trailer = b"trailer\n<< /Size %s /Root %s 0 R %s /Prev %s >>\nstartxref\n%d\n%%%%EOF\n" % (
        size[1], number, info[0] if info else b"", start[1], len(head) + len(catalogue),
    )  # fmt: skip
    return head + catalogue + table + trailer
