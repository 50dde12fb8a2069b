"""The changes that `make mutants` tries, on a function of which they were listed by hand."""

from __future__ import annotations

import ast

from tests.mutants.changes import changes_in

TOY = '''
LIMIT = 3

def share(part: int, whole: int = 100) -> str:
    """Not changed: this, the default, the types."""
    if part > whole and not whole:
        return "none"
    return f"{part / whole} of it", zip(part, whole, strict=True)
'''


def test_every_change_is_made_and_nothing_else() -> None:
    tree = ast.parse(TOY)
    made = [(change.line, change.was.splitlines()[0], ast.unparse(change.made_in(tree)))
            for change in changes_in(tree)]  # fmt: skip
    whole = ast.unparse(tree)
    assert [(line, was) for line, was, _ in made] == [
        (6, "if part > whole and (not whole):"),
        (6, "part > whole and (not whole)"),
        (6, "part > whole"),
        (6, "not whole"),
        (7, "'none'"),
    ]
    assert [now for _, _, now in made] == [
        whole.replace("if part > whole and (not whole)", "if not (part > whole and (not whole))"),
        whole.replace("whole and (not whole)", "whole or not whole"),
        whole.replace("part > whole", "part >= whole"),
        whole.replace("(not whole)", "whole"),
        whole.replace("'none'", "'XXnone'"),
    ]
    assert ast.unparse(tree) == whole
