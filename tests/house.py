"""How big the house is and how its rooms hang together: ``make house`` prints it.

A room is a file of the package, a floor one of its folders (or a file beside them).
"""

from __future__ import annotations

import ast
import sys
from collections.abc import Iterator, Mapping
from contextlib import suppress
from dataclasses import dataclass
from itertools import pairwise
from pathlib import Path

import networkx as nx

from tests.figures import AIMS, Row, write_rows

TESTS = Path(__file__).parent
PACKAGE = TESTS.parent / "rewire"
LONG, MANY = 500, 6
_DEFINED = (ast.ClassDef, ast.FunctionDef, ast.AsyncFunctionDef)


@dataclass(frozen=True)
class Room:
    """A file: its name with dots, its text, and what that means."""

    name: str
    text: str
    tree: ast.Module
    is_package: bool

    @property
    def lines(self) -> int:
        """Lines of the file."""
        return len(self.text.splitlines())

    @property
    def floor(self) -> str:
        """The folder or file right below the package."""
        return self.name.partition(".")[2].partition(".")[0]


def rooms_of(package: Path) -> dict[str, Room]:
    """Name of a room → the room, for all files of a package."""
    rooms = {}
    for path in sorted(package.rglob("*.py")):
        steps = path.relative_to(package.parent).with_suffix("").parts
        is_package = steps[-1] == "__init__"
        name = ".".join(steps[:-1] if is_package else steps)
        text = path.read_text("utf-8")
        rooms[name] = Room(name, text, ast.parse(text), is_package)
    return rooms


def imports_of(room: Room, rooms: Mapping[str, Room]) -> Iterator[str]:
    """Other rooms that this one imports when it is imported itself."""
    for node in _outside_functions(room.tree):
        named: list[str] = []
        if isinstance(node, ast.Import):
            named = [alias.name for alias in node.names]
        elif isinstance(node, ast.ImportFrom) and node.module:
            below = [f"{node.module}.{alias.name}" for alias in node.names]
            named = [name if name in rooms else node.module for name in below]
        yield from (name for name in named if name in rooms and name != room.name)


def _outside_functions(tree: ast.AST) -> Iterator[ast.AST]:
    for node in ast.iter_child_nodes(tree):
        if isinstance(node, (ast.FunctionDef, ast.AsyncFunctionDef)):
            continue
        if isinstance(node, ast.If) and "TYPE_CHECKING" in ast.dump(node.test):
            continue
        yield node
        yield from _outside_functions(node)


def graph_of(rooms: Mapping[str, Room]) -> nx.DiGraph[str]:
    """Who imports whom."""
    graph: nx.DiGraph[str] = nx.DiGraph()
    graph.add_nodes_from(rooms)
    graph.add_edges_from((r.name, other) for r in rooms.values() for other in imports_of(r, rooms))
    return graph


def circles(graph: nx.DiGraph[str]) -> list[list[str]]:
    """Rooms that import each other."""
    return sorted(sorted(c) for c in nx.strongly_connected_components(graph) if len(c) > 1)


def longest_chain(graph: nx.DiGraph[str]) -> list[str]:
    """The most rooms of which each imports the next; a circle counts as one room."""
    whole = nx.condensation(graph)
    chain = nx.dag_longest_path(whole)
    return [min(whole.nodes[node]["members"]) for node in chain]


def wide(rooms: Mapping[str, Room]) -> list[str]:
    """Functions with six parameters or more; self and cls are none."""
    return [
        f"{room.name}.{node.name}"
        for room in rooms.values()
        for node in ast.walk(room.tree)
        if isinstance(node, (ast.FunctionDef, ast.AsyncFunctionDef)) and _parameters(node) >= MANY
    ]


def _parameters(node: ast.FunctionDef | ast.AsyncFunctionDef) -> int:
    told = node.args
    named = [a.arg for a in (*told.posonlyargs, *told.args, *told.kwonlyargs)]
    return len([name for name in named if name not in ("self", "cls")])


def twice_named(rooms: Mapping[str, Room]) -> list[str]:
    """Public names that are defined on more than one floor."""
    floors: dict[str, set[str]] = {}
    for room in rooms.values():
        for node in room.tree.body:
            if isinstance(node, _DEFINED) and not node.name.startswith("_"):
                floors.setdefault(node.name, set()).add(room.floor)
    return sorted(name for name, where in floors.items() if len(where) > 1)


def kinds_of(rooms: Mapping[str, Room], base: str = "Part") -> set[str]:
    """Classes that stand for a kind of part: those made from ``base``, and from these."""
    kinds = {base}
    classes = [n for r in rooms.values() for n in r.tree.body if isinstance(n, ast.ClassDef)]
    for _ in classes:
        kinds |= {c.name for c in classes if any(ast.unparse(b) in kinds for b in c.bases)}
    return kinds - {base}


def sites(rooms: Mapping[str, Room], kinds: set[str]) -> list[str]:
    """Where a part is asked for its kind, by ``isinstance`` or by a case of ``match``."""
    return [
        f"{room.name}:{node.lineno}"
        for room in rooms.values()
        for node in ast.walk(room.tree)
        if isinstance(node, (ast.Call, ast.MatchClass)) and _asked(node) & kinds
    ]


def _asked(node: ast.Call | ast.MatchClass) -> set[str]:
    if isinstance(node, ast.MatchClass):
        return {ast.unparse(node.cls).split(".")[-1]}
    if ast.unparse(node.func) != "isinstance":
        return set()
    return {n.id for n in ast.walk(node.args[1]) if isinstance(n, ast.Name)}


def table(package: Path) -> dict[str, int]:
    """What is counted → how much of it there is."""
    rooms = rooms_of(package)
    graph = graph_of(rooms)
    return {
        "lines": sum(room.lines for room in rooms.values()),
        "rooms": len(rooms),
        f"rooms over {LONG} lines": sum(room.lines > LONG for room in rooms.values()),
        "rooms under 60 lines": sum(room.lines < 60 for room in rooms.values()),
        f"functions with {MANY} parameters or more": len(wide(rooms)),
        "names defined on two floors": len(twice_named(rooms)),
        "sites that ask for a kind of part": len(sites(rooms, kinds_of(rooms))),
        "rooms in the longest chain of imports": len(longest_chain(graph)),
        "circles of imports": len(circles(graph)),
        "lines of the tests": sum(room.lines for room in rooms_of(TESTS).values()),
    }


def main(package: Path = PACKAGE) -> None:
    """Print the table with the aims beside it, then the longest chain and the circles."""
    for what, count in table(package).items():
        sys.stdout.write(f"{what:<40}{count:>8,}   {AIMS['make house'][what]}\n")
    graph = graph_of(rooms_of(package))
    for above, below in pairwise(longest_chain(graph)):
        sys.stdout.write(f"  {above} imports {below}\n")
    for circle in circles(graph):
        sys.stdout.write(f"  in a circle: {', '.join(circle)}\n")


if __name__ == "__main__":
    with suppress(BrokenPipeError):  # `make house | head`
        main()
        sys.stdout.flush()
    write_rows("make house", [Row(what, count) for what, count in table(PACKAGE).items()])
    with suppress(BrokenPipeError):
        sys.stdout.close()
