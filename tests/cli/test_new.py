"""`rewire new`: what it writes reads, checks clean, sums, prints; nothing is ever overwritten."""

from __future__ import annotations

import json
import re
from pathlib import Path

import jsonschema
import pytest
import yaml
from click.testing import CliRunner, Result

from rewire.cli import rewire as group
from rewire.reading.drawer import read_drawer

pytestmark = pytest.mark.usefixtures("folder")
KINDS = ("meter-switch", "meter", "jack")


def rewire(*args: str) -> Result:
    return CliRunner().invoke(group, list(args), env={"COLUMNS": "80"})


@pytest.fixture
def folder(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    monkeypatch.chdir(tmp_path)
    return tmp_path


@pytest.mark.parametrize("kind", KINDS)
def test_a_starter_goes_through_every_command(kind: str) -> None:
    assert rewire("new", "mine.yaml", "--kind", kind).exit_code == 0
    checked = rewire("check", "mine.yaml", "--json")
    assert checked.exit_code == 0
    (result,) = json.loads(checked.stdout)["results"]
    assert result["verdict"] == "kept"
    kinds = {finding["kind"] for finding in result["findings"]}
    assert kinds <= {"spare", "altered"}  # another meter has another full scale
    assert not checked.stderr  # no notice of the reader either
    assert rewire("values", "mine.yaml").exit_code == 0
    assert rewire("moves", "mine.yaml").exit_code == 0
    assert rewire("sheet", "mine.yaml").exit_code == 0
    assert Path("mine.pdf").read_bytes().startswith(b"%PDF")


def test_an_editor_finds_the_schema_by_the_line_in_a_starter(folder: Path) -> None:
    """The comment is the convention of the open YAML language server."""
    rewire("new", "mine.yaml", "--kind", "meter")
    text = Path("mine.yaml").read_text("utf-8")
    match = re.search(r"^# yaml-language-server: \$schema=(\S+)$", text, re.MULTILINE)
    assert match is not None
    (folder / match[1]).write_text(rewire("schema").stdout)
    assert "rewire schema > schema.json" in text
    schema = json.loads((folder / match[1]).read_text())
    jsonschema.validate(yaml.load(text, yaml.BaseLoader), schema)


@pytest.mark.parametrize("form", ["DPDT", "2P12T", "3p4t", "4P2T", "12P12T"])
def test_a_meter_switch_of_any_form(form: str) -> None:
    assert rewire("new", "mine.yaml", "--form", form).exit_code == 0
    checked = rewire("check", "mine.yaml", "--json")
    assert checked.exit_code == 0, checked.output
    spec = yaml.load(Path("mine.yaml").read_text("utf-8"), Loader=yaml.BaseLoader)
    switches = [w["parts"] for w in spec["wirings"].values()]
    assert {s["switch"] for parts in switches for s in parts.values() if "switch" in s} == {
        form.upper()
    }
    assert rewire("values", "mine.yaml").exit_code == 0


@pytest.mark.parametrize("form", ["SPDT", "3P1T", "13P2T", "2P13T", "table", "", "DPDT\n- x"])
def test_a_form_that_no_meter_switch_has(folder: Path, form: str) -> None:
    result = rewire("new", "mine.yaml", "--form", form)
    assert result.exit_code == 2
    assert len(result.stderr.splitlines()) == 1
    assert not list(folder.iterdir())


def test_nothing_is_overwritten() -> None:
    for name, content in (("mine.yaml", "my own work"), ("ours.yaml", "%rewire-made\n")):
        Path(name).write_text(content)
        result = rewire("new", name)
        assert result.exit_code == 2
        assert "a file is there already; name another" in result.stderr
        assert Path(name).read_text() == content
    Path("link.yaml").symlink_to("nowhere.yaml")
    assert rewire("new", "link.yaml").exit_code == 2
    assert not Path("nowhere.yaml").exists()


def test_without_a_name_it_goes_to_swap_yaml_once() -> None:
    assert rewire("new").exit_code == 0
    assert Path("swap.yaml").exists()
    assert rewire("new").exit_code == 2


@pytest.mark.parametrize(
    "title",
    [
        "quotes \" and ' and: colons # and [brackets]",
        "@FILE@ @POINTS@ {title}",
        "right-to-left \u202eabc",
        "line\nbreak",
        "µA, Ω and 漢字",
        "back\\slash",
        "x" * 10_000,
    ],
)
def test_a_title_is_text(title: str) -> None:
    assert rewire("new", "mine.yaml", "--title", title).exit_code == 0
    read = yaml.safe_load(Path("mine.yaml").read_text("utf-8"))["title"]
    assert read == title
    assert rewire("check", "mine.yaml").exit_code == 0


def test_on_standard_output(folder: Path) -> None:
    result = rewire("new", "-", "--kind", "jack")
    assert result.exit_code == 0
    assert yaml.safe_load(result.stdout)["rewire"] == 1
    assert not list(folder.iterdir())


def test_what_it_cannot_do_it_says(folder: Path) -> None:
    assert rewire("new", "nowhere/mine.yaml").exit_code == 2
    assert rewire("new", "mine.yaml", "--kind", "meter", "--form", "DPDT").exit_code == 2
    assert rewire("new", "mine.yaml", "--kind", "jak").exit_code == 2
    assert not list(folder.iterdir())


def test_json_says_where_it_is() -> None:
    result = rewire("new", "mine.yaml", "--json")
    assert json.loads(result.stdout) == {
        "rewire": 1, "command": "new", "output": "mine.yaml", "kind": "meter-switch"
    }  # fmt: skip


FLAGSHIP = Path(__file__).parents[2] / "specs" / "valve-amplifier.yaml"
LOG = Path(__file__).parents[2] / "docs" / "examples" / "bench-log.yaml"


@pytest.mark.parametrize("sheet", ["sheet.pdf", "page.html"])
def test_what_a_sheet_was_made_from_is_taken_out_byte_for_byte(folder: Path, sheet: str) -> None:
    few = ["--sections", "acceptance"]
    assert rewire("sheet", str(FLAGSHIP), "-o", sheet, "--log", str(LOG), *few).exit_code == 0
    done = rewire("new", "--from", sheet, "--json")
    assert done.exit_code == 0, done.stderr
    assert json.loads(done.stdout)["output"] == "valve-amplifier.yaml"
    assert (folder / "valve-amplifier.yaml").read_bytes() == FLAGSHIP.read_bytes()
    log = folder / "valve-amplifier-log.yaml"
    assert sheet.endswith("html") or log.read_bytes() == LOG.read_bytes()
    before = {entry: entry.read_bytes() for entry in folder.iterdir()}
    again = rewire("new", "--from", sheet)
    assert again.exit_code == 2
    assert "a file is there already" in again.stderr
    assert {entry: entry.read_bytes() for entry in folder.iterdir()} == before


def test_a_log_in_the_way_keeps_the_spec_back_too(folder: Path) -> None:
    """Both or neither: half of what a sheet carries is no spec with its log."""
    few = ["--log", str(LOG), "--sections", "acceptance"]
    rewire("sheet", str(FLAGSHIP), "-o", "sheet.pdf", *few)
    (folder / "mine-log.yaml").write_text("mine")
    assert rewire("new", "--from", "sheet.pdf", "mine.yaml").exit_code == 2
    assert not (folder / "mine.yaml").exists()
    assert (folder / "mine-log.yaml").read_text() == "mine"


@pytest.mark.parametrize(
    "data", [b"", b"%PDF-1.7\n", b"%PDF-1.7\ntrailer<</Root 1 0 R>>\nstartxref\n0\n%%EOF", b"<p>",
             b'<script type="application/json" id="data">{"source": 1}</script>',
             b'<script type="application/json" id="data">{</script>', b"rewire: 1\n"],
)  # fmt: skip
def test_what_carries_no_spec_is_refused_by_name(folder: Path, data: bytes) -> None:
    (folder / "other").write_bytes(data)
    done = rewire("new", "--from", "other")
    assert done.exit_code == 2
    assert done.stderr.startswith("other: it carries no spec that can be read; only")
    assert [entry.name for entry in folder.iterdir()] == ["other"]


def test_the_name_of_a_spec_in_a_sheet_is_no_path(folder: Path) -> None:
    """What somebody sent is written into this folder and nowhere else."""
    told = json.dumps({"file": "../../evil.yaml", "source": "rewire: 1\n"})
    page = f'<script type="application/json" id="data">{told}</script>'
    (folder / "page.html").write_text(page)
    assert rewire("new", "--from", "page.html").exit_code == 0
    assert (folder / "evil.yaml").read_text() == "rewire: 1\n"


def test_a_drawer_to_begin_with_is_used_as_it_stands() -> None:
    """In YAML and as a table the same parts, and no note."""
    drawers = []
    for file in ("drawer.yaml", "trays.csv"):
        assert rewire("new", file, "--drawer").exit_code == 0
        drawers.append(read_drawer(file))
        used = rewire("values", str(FLAGSHIP), "--drawer", file, "--wiring", "substitute")
        assert used.exit_code in (0, 1)
        assert not used.stderr
    for name in ("resistors", "pots", "switches", "meters"):
        one, other = ([(s.part.value, s.quantity) for s in getattr(d, name)] for d in drawers)
        assert one == other
        assert one
    assert rewire("new", "--drawer").exit_code == 2  # drawer.yaml is there
    assert rewire("new", "x.yaml", "--drawer", "--form", "DPDT").exit_code == 2


def test_a_buzz_out_to_begin_with_is_identified() -> None:
    assert rewire("new", "--buzz-out").exit_code == 0
    assert rewire("identify", "switch", "buzz-out.yaml").stdout.startswith("DPDT")


def test_a_log_to_begin_with_takes_what_is_filled_in(folder: Path) -> None:
    """Every blank filled in with what should be there: nothing is wrong, nothing untested."""
    spec = str(FLAGSHIP)
    assert rewire("new", "--log", spec).exit_code == 0
    text = Path("bench-log.yaml").read_text("utf-8")
    empty = rewire("buzz", spec, "--found", "bench-log.yaml")
    assert "nothing was buzzed" in empty.stdout
    filled = re.sub(r"# - (\{when.*found:) \}   # ([^;\n]*).*", r"- \1 \2}", text)
    filled = filled.replace("# - {reading", "- {reading").replace(
        "indicated: }", "indicated: 100 %}"
    )
    Path("bench-log.yaml").write_text(filled)
    done = rewire("buzz", spec, "--found", "bench-log.yaml", "--json")
    assert done.exit_code == 0, done.stdout + done.stderr
    (result,) = json.loads(done.stdout)["results"]
    assert not result["suspects"]
    assert rewire("new", "x.yaml", "--log", "nowhere.yaml").exit_code == 2
    assert "no wiring is called" in rewire("new", "x.yaml", "--log", spec, "--wiring", "x").stderr
    assert rewire("new", "x.yaml", "--wiring", "x").exit_code == 2
    assert [path.name for path in folder.iterdir()] == ["bench-log.yaml"]
