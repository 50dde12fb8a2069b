"""What `make house` counts, on a small package of which each number was counted by eye."""

from __future__ import annotations

from pathlib import Path

import pytest

from tests.house import circles, graph_of, longest_chain, main, rooms_of, table

TOY = {
    "__init__.py": "",
    "parts/__init__.py": "",
    "parts/model.py": """
class Part: ...
class Lamp(Part): ...
class Neon(Lamp): ...
def told(a, b, c, d, e, *, f): ...
""",
    "work/__init__.py": "from toy.work.ask import told\n",
    "work/ask.py": """
from toy.parts.model import Lamp, Neon
import toy.work.answer

def told(part):
    import toy.work.late
    match part:
        case Neon():
            return 1
    return isinstance(part, (Lamp, int)) or isinstance(part, str)

class Desk:
    def five(self, a, b, c, d, e): ...
""",
    "work/answer.py": "from toy.work import ask\n",
    "work/late.py": "import toy.work\n",
    "long.py": "# one\n" * 501,
}


@pytest.fixture
def toy(tmp_path: Path) -> Path:
    for name, text in TOY.items():
        place = tmp_path / "toy" / name
        place.parent.mkdir(parents=True, exist_ok=True)
        place.write_text(text, "utf-8")
    return tmp_path / "toy"


def test_everything_is_counted(toy: Path) -> None:
    counted = table(toy)
    assert list(counted.values())[:-1] == [522, 8, 1, 7, 1, 1, 2, 4, 1]


def test_a_room_imported_while_it_works_is_in_no_circle(toy: Path) -> None:
    assert circles(graph_of(rooms_of(toy))) == [["toy.work.answer", "toy.work.ask"]]


def test_the_longest_chain_goes_from_the_top_to_the_bottom(toy: Path) -> None:
    chain = longest_chain(graph_of(rooms_of(toy)))
    assert chain == ["toy.work.late", "toy.work", "toy.work.answer", "toy.parts.model"]


def test_the_table_is_printed_with_its_aims(toy: Path, capsys: pytest.CaptureFixture[str]) -> None:
    main(toy)
    printed = capsys.readouterr().out
    assert "lines                                        522   at most 25,000\n" in printed
    assert "in a circle: toy.work.answer, toy.work.ask" in printed
