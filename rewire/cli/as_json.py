"""Machine output: the mappings that the design's page on outputs fixes."""

from __future__ import annotations

import json
from collections.abc import Iterable
from math import isfinite
from typing import Any

from rewire.cli.trouble import LIMIT, Complaint, Trouble
from rewire.compare.findings import Company, Finding, Result, State
from rewire.records.spec import Spec

JSON = dict[str, Any]

_SWITCHING = frozenset({"gap", "bridge", "interrupted", "stray"})


def dumped(document: object) -> str:
    """Text of a document. In ASCII, so that no terminal's encoding can spoil it.

    What has no bound is ``null``, for JSON knows no infinity.
    """
    return json.dumps(_finite(document), indent=1, allow_nan=False) + "\n"


def _finite(value: Any) -> Any:
    if isinstance(value, dict):
        return {key: _finite(item) for key, item in value.items()}
    if isinstance(value, list | tuple):
        return [_finite(item) for item in value]
    return None if isinstance(value, float) and not isfinite(value) else value


def checked(file: str, results: Iterable[Result]) -> JSON:
    """What ``rewire check`` answers on one spec."""
    return {**_head("check", file), "results": [_result(result) for result in results]}


def written(file: str, output: str, results: Iterable[Result], spec: Spec) -> JSON:
    """What ``rewire sheet`` answers on one spec: where the sheet is, and what it says."""
    verdicts = [
        {"wiring": r.wiring, "role": spec.wirings[r.wiring].role, "verdict": r.verdict}
        for r in results
    ]
    return {**_head("sheet", file), "output": output, "results": verdicts}


def drawn(file: str, outputs: Iterable[tuple[str, str, Iterable[str], Iterable[str]]]) -> JSON:
    """What ``rewire draw`` answers on one spec: the files, and what is on them."""
    results = [
        {"output": place, "format": format_, "views": list(views), "sheets": list(sheets)}
        for place, format_, views, sheets in outputs
    ]
    return {**_head("draw", file), "results": results}


def refused(command: str, file: str, trouble: Trouble) -> JSON:
    """What stands in the place of an answer where there is none."""
    if trouble.status == LIMIT:
        return {**_head(command, file), "limit": "; ".join(c.message for c in trouble.complaints)}
    return {**_head(command, file), "errors": [_error(one) for one in trouble.complaints]}


def _head(command: str, file: str) -> JSON:
    return {"rewire": 1, "command": command, "spec": file}


def _error(complaint: Complaint) -> JSON:
    return {
        "line": complaint.line,
        "column": complaint.column,
        "message": complaint.message,
        "hint": complaint.hint,
    }


def _result(result: Result) -> JSON:
    return {
        "wiring": result.wiring,
        "verdict": result.verdict,
        "states": result.states,
        "findings": [finding_as_json(finding) for finding in result.findings],
    }


def finding_as_json(finding: Finding) -> JSON:
    """One finding, as every command gives it."""
    about = {
        "rule": finding.rule,
        "change": finding.change,
        "part": finding.part,
        "place": finding.place,
        "in_step": finding.in_step,
    }
    return {
        "kind": finding.kind,
        "meant": finding.meant,
        **_when(finding),
        "groups": [list(group) for group in finding.groups],
        **{key: value for key, value in about.items() if value is not None},
        "through": list(finding.through),
        "company": [_company(one) for one in finding.company],
        "was": list(finding.was),
        "now": finding.now,
        "why": finding.why,
        "message": finding.message,
    }


def _when(finding: Finding) -> JSON:
    """Steps for what happens while switching, states for all else; a rule may have both."""
    states = [_state(state) for state in finding.states]
    steps = [{"from": _state(step.before), "to": _state(step.after)} for step in finding.steps]
    if finding.kind in _SWITCHING:
        return {"steps": steps}
    if not steps:
        return {"states": states}
    return {"states": states, "steps": steps} if states else {"steps": steps}


def _state(state: State) -> dict[str, str]:
    return state.as_dict()


def _company(one: Company) -> JSON:
    states = None if one.states is None else [state.as_dict() for state in one.states]
    return {"place": one.place, "states": states}
