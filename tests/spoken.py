"""Words that nobody says at a bench, and that must not come back into anything that people read.

Common practice, no source. Looked for in reports and help (tests/cli), in the pages of docs
(tests/docs), on paper and on the page (tests/sheet).
"""

from __future__ import annotations

import html
import re

NOT_SAID = re.compile(
    r"\b(ties|tied|(?<!the )(?<!in )places?|glance|company|lands|landing|feels|joined|"
    r"let go|lets go|is to be|are to be|no more (?!than)|on its way|at a time are|"
    r"keeps? apart|stands? at nothing|true value away|no way back|at sight|what is odd|"
    r"touches|the contract|the issue|the review)\b",
    re.IGNORECASE,
)


def not_said(text: str) -> list[str]:
    """Each of the words that a text says, with what stands around it."""
    spoken = " ".join(text.split())
    return [
        spoken[max(0, found.start() - 40) : found.end() + 40] for found in NOT_SAID.finditer(spoken)
    ]


def of_page(page: str) -> str:
    """What is read on an HTML page: neither its scripts nor its styles nor its tags."""
    bare = re.sub(r"<(script|style)\b.*?</\1>", "", page, flags=re.DOTALL)
    return html.unescape(re.sub(r"<[^>]+>", "\n", bare))
