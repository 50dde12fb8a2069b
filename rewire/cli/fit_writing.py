"""``rewire fit --write``: the landing as a new wiring in the spec, checked first."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path

from rewire.cli.files import alone, write_whole
from rewire.cli.trouble import Complaint, Refused
from rewire.compare import compare
from rewire.fit.answer import FitAnswer
from rewire.fit.task import SwitchTask
from rewire.reading import SpecError, read_text
from rewire.records.spec import Spec
from rewire.words.wording import shown


def check_new_name(spec: Spec, name: str) -> None:
    """See that a wiring of this name can be added.

    Raises:
        Refused: there is one, or the name will not do.
    """
    folded = {known.casefold(): known for known in spec.wirings}
    known = folded.get(name.casefold())
    if known is not None:
        message = f"--write: there is a wiring {shown(known)} already"
        raise Refused(Complaint(message, spec.file, hint="choose another name"))
    if not name.strip() or not name.isprintable():
        message = f"--write: {shown(name)} cannot be the name of a wiring"
        raise Refused(Complaint(message, spec.file, hint="write letters, digits, _ and -"))


def write_best(answers: Sequence[FitAnswer], name: str) -> bool:
    """Add the first landing to the spec's file, if there is one; whether there was.

    Raises:
        Refused: the file is not what was read any more, or cannot take one more wiring.
        OSError: it cannot be written; it is as it was then.
    """
    best = next((answer for answer in answers if answer.feasible), None)
    if best is None:
        return False
    path = Path(best.task.spec.file)
    with alone(path):
        _add(best, path, name)
    return True


def _add(best: FitAnswer, path: Path, name: str) -> None:
    from rewire.fit.writing import with_landing

    before = path.read_bytes()
    mark = b"\xef\xbb\xbf" if before.startswith(b"\xef\xbb\xbf") else b""
    text = with_landing(before.removeprefix(mark).decode("utf-8"), best, name)
    after = mark + text.encode("utf-8")
    _check(best.task, after, name)
    if path.read_bytes() != before:
        message = "not written: somebody else changed the file meanwhile"
        raise Refused(Complaint(message, str(path), hint="run this again"))
    write_whole(path, after, force=True)


def _check(task: SwitchTask, after: bytes, name: str) -> None:
    """Read it back and compare: what does not check is never written.

    Raises:
        Refused: it does not.
    """
    file = task.spec.file
    try:
        spec = read_text(after, file)
        result = compare(spec, [name])[0]
    except SpecError as error:
        message = f"the wiring cannot be added: {error.faults[0].message}"
        raise Refused(Complaint(message, file, hint="report this, with the spec")) from None
    if task.obstacles(result):
        message = "the wiring as written does not check: nothing was written"
        raise Refused(Complaint(message, file, hint="report this, with the spec"))
