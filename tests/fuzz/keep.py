"""Keep what ``make fuzz`` found worth trying: ``python -m tests.fuzz.keep [FOLDER]``.

Each input reaches lines of the readers that none before it reached; small ones come first.
"""

from __future__ import annotations

import json
import sys
from collections.abc import Iterator
from pathlib import Path
from types import CodeType, FrameType
from typing import Any

from tests.fuzz.readers import ROOT, read_any

KEPT = Path(__file__).parent / "kept.json"
_LONGEST = 600
"""Bytes; longer ones repeat what shorter ones have."""

Step = tuple[CodeType, int, int]
"""From a line of a piece of code to a line."""


def steps_of(data: bytes) -> set[Step]:
    """The steps from line to line that reading goes through, in the program's own code."""
    found: set[Step] = set()
    last: dict[FrameType, int] = {}
    ours = str(ROOT / "rewire")

    def trace(frame: FrameType, event: str, _: Any) -> Any:
        if not frame.f_code.co_filename.startswith(ours):
            return None
        found.add((frame.f_code, last.get(frame, 0), frame.f_lineno))
        last[frame] = frame.f_lineno
        if event == "return":
            last.pop(frame, None)
        return trace

    sys.settrace(trace)
    try:
        read_any(data)
    finally:
        sys.settrace(None)
    return found


def chosen(folder: Path) -> Iterator[bytes]:
    """The inputs of a folder that reach something new, the shortest first."""
    reached: set[Step] = set()
    inputs = [path.read_bytes() for path in folder.iterdir()]
    for data in sorted(inputs, key=lambda data: (len(data), data)):
        if len(data) <= _LONGEST:
            steps = steps_of(data)
            if not steps <= reached:
                reached |= steps
                yield data


def main() -> None:
    """Write them as texts, in which each letter is a byte (ISO 8859-1)."""
    folder = Path(sys.argv[1]) if len(sys.argv) > 1 else ROOT / "out" / "fuzz" / "corpus"
    kept = [data.decode("latin-1") for data in chosen(folder)]
    KEPT.write_text(json.dumps(kept, indent=0, ensure_ascii=True) + "\n", "ascii")
    sys.stdout.write(f"{len(kept)} inputs kept\n")


if __name__ == "__main__":
    main()
