"""Reading a spec: from a file or its bytes to the checked model."""

from __future__ import annotations

import hashlib
from pathlib import Path

from rewire.reading.build import build
from rewire.reading.faults import Report
from rewire.reading.format import SPEC
from rewire.reading.forms import BAD, Reader
from rewire.reading.load import bytes_of, tree_of
from rewire.reading.names import Desk
from rewire.reading.text import Mapping
from rewire.records.spec import Spec


def read_spec(path: str | Path) -> Spec:
    """Read and check a spec file.

    Args:
        path: of the file.

    Raises:
        SpecError: it cannot be read, or something in it is wrong; all that is wrong at once.
    """
    return read_text(bytes_of(path, "the file"), str(path))


_OTHERS = {
    "rewire_drawer": ("this is a drawer, not a spec", "give it with --drawer"),
    "rewire_bench": ("this is a bench log, not a spec", "give it with buzz --found"),
    "rewire_switch": ("this is a buzz-out, not a spec", "give it to identify switch"),
}


def _refuse_others(tree: Mapping, report: Report) -> None:
    """A file of another kind is called so, or every key in it would be called unknown."""
    for key, (message, way_out) in _OTHERS.items():
        if key in tree.keys and "rewire" not in tree.keys:
            at = tree.keys[key]
            report.fault(report.place(at.line, at.column), message, way_out)
            raise report.error()


def read_text(data: bytes, file: str = "<text>") -> Spec:
    """Read and check a spec that is already in memory.

    Args:
        data: the bytes of a file, UTF-8.
        file: its name, for messages.

    Raises:
        SpecError: something in it is wrong; all that is wrong at once.
    """
    report = Report(file)
    tree = tree_of(data, report)
    _refuse_others(tree, report)
    reader = Reader(report)
    read = SPEC.take(tree, None, reader)
    if read is BAD:
        raise report.error()
    spec = build(read, tree, Desk(report, reader.broken), hashlib.sha256(data).hexdigest())
    if report:
        raise report.error()
    return spec
