"""Small changes to a function, each of which a test should notice."""

from __future__ import annotations

import ast
import copy
from collections.abc import Iterator
from dataclasses import dataclass

TURNED: dict[type[ast.AST], type[ast.AST]] = {
    ast.Lt: ast.LtE, ast.LtE: ast.Lt, ast.Gt: ast.GtE, ast.GtE: ast.Gt, ast.Eq: ast.NotEq,
    ast.NotEq: ast.Eq, ast.In: ast.NotIn, ast.NotIn: ast.In, ast.Is: ast.IsNot,
    ast.IsNot: ast.Is, ast.And: ast.Or, ast.Or: ast.And, ast.Add: ast.Sub, ast.Sub: ast.Add,
    ast.Mult: ast.Div, ast.Div: ast.Mult, ast.FloorDiv: ast.Mult, ast.Mod: ast.Add,
    ast.BitOr: ast.BitAnd, ast.BitAnd: ast.BitOr, ast.Pow: ast.Mult, ast.Break: ast.Continue,
    ast.Continue: ast.Break,
}  # fmt: skip
"""What stands in place of an operator or a jump."""
Step = tuple[str, int | None]
"""A field of a node, and which of a list."""


@dataclass(frozen=True)
class Change:
    """One change: its line, the way to the node in the file's tree, what stood and what stands."""

    line: int
    way: tuple[Step, ...]
    was: str
    now: str
    new: ast.AST

    def made_in(self, tree: ast.Module) -> ast.Module:
        """A copy of the file's tree with the change."""
        changed = copy.deepcopy(tree)
        node: ast.AST = changed
        for step in self.way[:-1]:
            node = _at(node, step)
        field, number = self.way[-1]
        if number is None:
            setattr(node, field, self.new)
        else:
            getattr(node, field)[number] = self.new
        return ast.fix_missing_locations(changed)


def _at(node: ast.AST, step: Step) -> ast.AST:
    field, number = step
    found: ast.AST = getattr(node, field) if number is None else getattr(node, field)[number]
    return found


def changes_in(tree: ast.Module) -> Iterator[Change]:
    """All changes to the bodies of a file's functions; not to defaults, types and docstrings."""
    yield from _below(tree, (), inside=False)


def _below(node: ast.AST, way: tuple[Step, ...], inside: bool) -> Iterator[Change]:
    for step, child in _children(node):
        if isinstance(child, ast.JoinedStr) or step[0] in ("annotation", "returns"):
            continue
        if isinstance(child, ast.keyword) and child.arg == "strict":  # of zip: no answer has it
            continue
        here = (*way, step)
        if inside:
            yield from _changes(child, here)
        if isinstance(child, ast.FunctionDef):
            for number, line in enumerate(child.body):
                if not (number == 0 and ast.get_docstring(child)):
                    yield from _changes(line, (*here, ("body", number)))
                    yield from _below(line, (*here, ("body", number)), inside=True)
        else:
            yield from _below(child, here, inside or isinstance(child, ast.Lambda))


def _children(node: ast.AST) -> Iterator[tuple[Step, ast.AST]]:
    for field, value in ast.iter_fields(node):
        if isinstance(value, ast.AST):
            yield (field, None), value
        elif isinstance(value, list):
            each = enumerate(value)
            yield from (((field, n), one) for n, one in each if isinstance(one, ast.AST))


def _changes(node: ast.AST, way: tuple[Step, ...]) -> Iterator[Change]:
    """What may stand in place of one node."""
    for new in _others(node):
        placed = ast.copy_location(new, node)
        ast.fix_missing_locations(placed)
        line = getattr(node, "lineno", 0)
        yield Change(line, way, ast.unparse(node), ast.unparse(placed), placed)


def _others(node: ast.AST) -> Iterator[ast.AST]:
    match node:
        case ast.Compare(ops=[one]):
            yield _with(node, ops=[TURNED[type(one)]()])
        case ast.BoolOp(op=op) | ast.BinOp(op=op) if type(op) in TURNED:
            yield _with(node, op=TURNED[type(op)]())
        case ast.UnaryOp(op=ast.Not() | ast.USub(), operand=operand):
            yield operand
        case ast.Constant(value=value):
            yield from _other_values(value)
        case ast.If() | ast.While() | ast.IfExp():
            yield _with(node, test=ast.UnaryOp(ast.Not(), node.test))
        case ast.comprehension(ifs=[_, *_]):
            yield _with(node, ifs=node.ifs[1:])
        case ast.Expr(value=ast.Call()) | ast.AugAssign():
            yield ast.Pass()
        case ast.Break() | ast.Continue():
            yield TURNED[type(node)]()


def _other_values(value: object) -> Iterator[ast.AST]:
    match value:
        case bool():
            yield ast.Constant(not value)
        case int() | float():
            yield ast.Constant(value + 1)
        case str():
            yield ast.Constant(f"XX{value}")


def _with(node: ast.AST, **fields: object) -> ast.AST:
    changed = copy.copy(node)
    for field, value in fields.items():
        setattr(changed, field, value)
    return changed
