"""Reading a spec: from a file or its bytes to the checked model."""

from __future__ import annotations

import gc
import hashlib
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

from rewire.spec.build import build
from rewire.spec.model import Place, Spec
from rewire.spec.report import Fault, Report, SpecError
from rewire.spec.shape import shape
from rewire.spec.text import LARGEST_BYTES, Unreadable, parse


def read_spec(path: str | Path) -> Spec:
    """Read and check a spec file.

    Args:
        path: of the file.

    Raises:
        SpecError: it cannot be read, or something in it is wrong; all that is wrong at once.
    """
    try:
        with Path(path).open("rb") as file:
            data = file.read(LARGEST_BYTES + 1)
    except (OSError, ValueError) as error:
        reason = getattr(error, "strerror", None) or str(error)
        fault = Fault(Place(str(path), 1, 1), f"the file cannot be read: {reason}")
        raise SpecError([fault]) from None
    return read_text(data, str(path))


@contextmanager
def _no_collecting() -> Iterator[None]:
    """A tree of a million nodes holds no circles: looking for some takes half of the time."""
    was_on = gc.isenabled()
    gc.disable()
    try:
        yield
    finally:
        if was_on:
            gc.enable()


@_no_collecting()
def read_text(data: bytes, file: str = "<text>") -> Spec:
    """Read and check a spec that is already in memory.

    Args:
        data: the bytes of a file, UTF-8.
        file: its name, for messages.

    Raises:
        SpecError: something in it is wrong; all that is wrong at once.
    """
    report = Report(file)
    try:
        tree = parse(data, report)
    except Unreadable:
        raise report.error() from None
    shaped = shape(tree, report)
    if shaped is None:
        raise report.error()
    spec = build(shaped, report, hashlib.sha256(data).hexdigest())
    if report:
        raise report.error()
    return spec
