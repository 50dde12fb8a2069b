"""A spec from a stranger: it reads, writes and runs nothing, and its texts come out as texts."""

from __future__ import annotations

import html.parser
import json
import os
import struct
import subprocess
import sys
import sysconfig
import unicodedata
import xml.etree.ElementTree as ET
import zlib
from collections.abc import Iterator
from pathlib import Path

import pypdf
import pytest

from rewire.words.wording import shown
from tests.hard.commands import (
    EVERY,
    FILES,
    REPORTS,
    forked,
    ran,
    spelt,
    with_text_everywhere,
    written,
)

MARKUP = (
    "<script>alert(1)</script> <img src=x onerror='alert(2)'> \"><svg onload=alert(3)> "
    "{{ 7 * 7 }} %s $x^2$ \\input{/etc/passwd} ../../etc/passwd javascript:alert(4) &lt;"
)
TURNED = "one \u202etwo\u202c \u2066three\u2069 \u200bfour \u200ffive"
PLAIN = "plain words of much the same length, that hold nothing but letters and blanks so that"

# PEP 578's audit events: whatever Python itself opens, starts or connects to passes there.
WATCHED = """
import json, os, sys
seen = []
def hook(event, args):
    if event == "open":
        mode, flags = str(args[1]), args[2] or 0
        writes = any(letter in mode for letter in "wax+") or flags & (os.O_WRONLY | os.O_RDWR)
        file = os.path.abspath(args[0]) if isinstance(args[0], str) else args[0]
        seen.append(("write" if writes else "read", file))
    elif event.split(".")[0] in ("subprocess", "socket", "webbrowser", "urllib", "pty"):
        seen.append(("run", event))
    elif event in ("os.system", "os.exec", "os.posix_spawn", "os.fork", "os.forkpty"):
        seen.append(("run", event))
    elif event in ("os.rename", "os.remove", "os.mkdir", "os.link", "os.symlink", "os.truncate"):
        seen.extend(("write", arg) for arg in args if isinstance(arg, (str, bytes)))
sys.addaudithook(hook)
from rewire.cli import rewire
told = []
for words in json.loads(sys.argv[1]):
    seen.clear()
    try:
        rewire(words, prog_name="rewire")
    except SystemExit as end:
        told.append((end.code, [(kind, str(what)) for kind, what in dict.fromkeys(seen)]))
with open(sys.argv[2], "w") as file:
    json.dump(told, file)
"""


Seen = tuple[int, list[tuple[str, ...]]]


@pytest.fixture(scope="module")
def fonts(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Where matplotlib keeps its list of fonts, made before anything is watched."""
    folder = tmp_path_factory.mktemp("fonts")
    listing = "import matplotlib.font_manager"
    subprocess.run([sys.executable, "-c", listing], check=True, env=environment(folder))
    return folder


def environment(fonts: Path) -> dict[str, str]:
    return {**os.environ, "MPLCONFIGDIR": str(fonts), "PYTHONDONTWRITEBYTECODE": "1"}


def watched(commands: list[list[str]], out: Path, fonts: Path) -> tuple[str, list[Seen]]:
    """What commands said, and for each its exit status and what it opened, wrote and ran."""
    told = out.parent.parent / "told.json"
    done = subprocess.run(
        [sys.executable, "-P", "-c", WATCHED, json.dumps(commands), str(told)],
        capture_output=True, encoding="utf-8", check=True, cwd=out, env=environment(fonts),
    )  # fmt: skip
    found = json.loads(told.read_text("utf-8"))
    told.unlink()
    return done.stdout + done.stderr, [(code, [tuple(one) for one in seen]) for code, seen in found]


def inside(path: str, folders: list[str]) -> bool:
    real = os.path.realpath(path)
    return any(real == folder or real.startswith(folder + os.sep) for folder in folders)


def installed() -> list[str]:
    """Python, its packages, this project's code, and what the system lends every program."""
    names = {sys.prefix, sys.base_prefix, *sysconfig.get_paths().values()}
    ours = Path(__file__).parents[2] / "rewire"
    lent = ["/usr/lib", "/usr/share", "/usr/local", "/etc/localtime", "/proc", "/sys", "/dev"]
    return [os.path.realpath(name) for name in (*names, str(ours), *lent)]


@pytest.fixture
def out(tmp_path: Path) -> Path:
    """The folder of the output, in a spec's folder, beside which lies what is secret."""
    (tmp_path / "secret.png").write_bytes(b"not for you")
    folder = tmp_path / "home" / "out"
    folder.mkdir(parents=True)
    return folder


def test_nothing_outside_is_read_nothing_else_written_and_nothing_run(
    out: Path, fonts: Path
) -> None:
    home = out.parent
    path = written(home, with_text_everywhere(MARKUP))
    names = ["check", "values", "moves", "buzz", "fit", *FILES]
    _, told = watched([spelt(EVERY[name], path, out) for name in names], out, fonts)
    free = [*installed(), os.path.realpath(fonts)]
    for name, (status, seen) in zip(names, told, strict=True):
        assert status in ((0,) if name in FILES else (0, 1, 3) if name == "fit" else (0, 1)), name
        assert ("read", str(path)) in seen
        kept = os.path.realpath(fonts)
        wrote = {what for kind, what in seen if kind == "write" and not inside(what, [kept])}
        assert bool(wrote) == (name in FILES), name
        assert [what for what in wrote if not inside(what, [str(out)])] == []
        assert [what for kind, what in seen if kind == "run"] == []
        read = [what for kind, what in seen if kind == "read" and not what.isdigit()]
        assert [what for what in read if not inside(what, [*free, str(path), str(out)])] == []
    assert sorted(home.parent.iterdir()) == [home, home.parent / "secret.png"]
    assert sorted(home.iterdir()) == [out, path]
    assert {file.suffix for file in out.iterdir()} == {".pdf", ".svg", ".html"}


def test_an_image_outside_the_specs_folder_is_refused_unread(out: Path, fonts: Path) -> None:
    images = ("../secret.png", "/proc/self/environ", "out/../../secret.png")
    commands = []
    for number, image in enumerate(images):
        spec = with_text_everywhere(MARKUP)
        note = {"at": ["0.5", "0.5"], "text": MARKUP}
        spec["pages"] = [{"image": image, "title": MARKUP, "notes": [note]}]
        path = written(out.parent, spec, f"spec{number}.yaml")
        commands += [spelt(EVERY[name], path, out) for name in ("draw to PDF", "sheet", "page")]
    said, told = watched(commands, out, fonts)
    assert [status for status, _ in told] == [2] * len(commands)
    for number, image in enumerate(images):
        assert said.count(f"spec{number}.yaml:1:") >= 3
        real = os.path.realpath(out.parent / image)
        assert real not in {os.path.realpath(what) for _, seen in told for _, what in seen}
    assert list(out.iterdir()) == []


def bomb(side: int) -> bytes:
    """A PNG of a few hundred bytes with side × side white pixels (ISO/IEC 15948, from memory)."""
    rows = zlib.compress(bytes(side), 9)

    def chunk(kind: bytes, data: bytes) -> bytes:
        return (
            struct.pack(">I", len(data)) + kind + data + struct.pack(">I", zlib.crc32(kind + data))
        )

    head = struct.pack(">IIBBBBB", side, side, 8, 0, 0, 0, 0)
    return b"\x89PNG\r\n\x1a\n" + chunk(b"IHDR", head) + chunk(b"IDAT", rows) + chunk(b"IEND", b"")


def test_a_file_that_is_not_an_image_is_refused_at_once(out: Path) -> None:
    """Pipes, devices, links to them, the process's own memory, and pictures that swell."""
    home = out.parent
    os.mkfifo(home / "pipe.png")
    (home / "zero.png").symlink_to("/dev/zero")
    (home / "self.png").symlink_to("/proc/self/environ")
    (home / "folder.png").mkdir()
    (home / "up").symlink_to(home.parent)
    (home / "swells.png").write_bytes(bomb(60_000))
    with (home / "huge.png").open("wb") as file:
        file.truncate(3_000_000_000)
    spec = with_text_everywhere(PLAIN)
    images = [
        "pipe.png", "zero.png", "self.png", "folder.png", "up/secret.png", "swells.png", "huge.png",
        "swells.png/x", "nothing.png", "x" * 5000,
    ]  # fmt: skip
    spec["pages"] = [{"image": image, "title": "page"} for image in images]
    path = written(home, spec)
    limited = "resource.setrlimit(resource.RLIMIT_CPU, (20, 20))"
    plain = written(home, with_text_everywhere(PLAIN), "plain.yaml")
    pages = ("draw", str(path), "--view", "pages", "-o", str(out))
    *ended, good = forked(
        [
            (pages, limited),
            ((*spelt(EVERY["page"], path, out), "--sections", "all"), limited),
            ((*spelt(EVERY["page"], plain, out), "--sections", "all"), limited),
        ]
    )
    assert good.status == 0
    for end in ended:
        assert end.status == 2, end.err
        assert len(end.err.decode().splitlines()) == len(images)
        assert end.most_kib < good.most_kib + 120 * 1024
    for image in images:
        assert f"image {shown(image)}: " in ended[0].err.decode()
    assert [file.name for file in out.iterdir()] == ["page.html"]


MODULES = sorted({*sys.stdlib_module_names, "yaml", "click", "networkx", "matplotlib"})
TRAP = "import os\nopen({place!r}, 'a').write(__name__)\nraise SystemExit('caught')\n"


@pytest.fixture(scope="module")
def trapped(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A folder as a stranger may send it: beside the spec lie modules and settings that bite."""
    folder = tmp_path_factory.mktemp("trapped")
    for name in ("one.yaml", "other.yaml"):
        written(folder, with_text_everywhere("plain"), name)
    for name in (*MODULES, "sitecustomize", "usercustomize", "PIL", "numpy", "scipy", "jinja2"):
        (folder / f"{name}.py").write_text(TRAP.format(place=str(folder / "CAUGHT")), "utf-8")
    os.mkfifo(folder / "matplotlibrc")
    return folder


def started(folder: Path, *line: str) -> subprocess.CompletedProcess[str]:
    kept = {k: v for k, v in os.environ.items() if k not in ("PYTHONPATH", "PYTHONSAFEPATH")}
    done = subprocess.run(
        line, cwd=folder, env=kept, capture_output=True, encoding="utf-8", check=False, timeout=300
    )
    assert not (folder / "CAUGHT").exists(), (folder / "CAUGHT").read_text("utf-8")
    return done


def test_modules_and_settings_that_lie_beside_a_spec_do_not_run(trapped: Path) -> None:
    rewire = str(Path(sysconfig.get_path("scripts")) / "rewire")
    checked = started(trapped, rewire, "check", "one.yaml", "other.yaml", "--jobs", "2")
    assert checked.returncode == 1, checked.stderr
    drawn = started(trapped, rewire, *DRAWN)
    assert drawn.returncode == 0, drawn.stderr
    assert drawn.stderr == "drawn.svg: written (1 sheet)\n"
    clean = trapped / "clean"
    clean.mkdir()
    assert started(clean, rewire, *DRAWN[:1], "../one.yaml", *DRAWN[2:]).returncode == 0
    assert (clean / "drawn.svg").read_bytes() == (trapped / "drawn.svg").read_bytes()


DRAWN = ("draw", "one.yaml", "--view", "lugs", "--wiring", "original", "-o", "drawn.svg")
SPAWNED = """
import multiprocessing, sys
from rewire.cli import main
if __name__ == "__main__":
    multiprocessing.set_start_method("spawn")
    main()
"""


def test_nor_do_they_in_workers_that_are_started_anew(trapped: Path, tmp_path: Path) -> None:
    """As Python starts them on other systems, and on Linux from 3.14 on."""
    program = tmp_path / "rewire"
    program.write_text(SPAWNED, "utf-8")
    words = ("check", "one.yaml", "other.yaml", "--jobs", "2")
    done = started(trapped, sys.executable, str(program), *words)
    assert done.returncode == 1, done.stderr
    assert done.stdout.count("broken") == 2


def test_nor_do_libraries_that_lie_there_when_the_package_is_run_as_a_module(
    tmp_path: Path,
) -> None:
    """What Python itself imports before it comes to the package is beyond its reach (README)."""
    written(tmp_path, with_text_everywhere("plain"), "one.yaml")
    for name in ("yaml", "click", "networkx", "json", "textwrap", "difflib"):
        trap = TRAP.format(place=str(tmp_path / "CAUGHT"))
        (tmp_path / f"{name}.py").write_text(trap, "utf-8")
    done = started(tmp_path, sys.executable, "-m", "rewire", "check", "one.yaml")
    assert done.returncode == 1, done.stderr


def unseen(text: str) -> set[str]:
    """Characters that steer a terminal or turn text round, by their Unicode categories."""
    return {c for c in text if unicodedata.category(c) in {"Cc", "Cf", "Cs", "Zl", "Zp"}} - {"\n"}


@pytest.mark.parametrize("name", [name for name in REPORTS if "json" not in name])
def test_hostile_text_is_text_on_the_terminal(name: str, tmp_path: Path) -> None:
    path = written(tmp_path, with_text_everywhere(TURNED))
    done = ran(*spelt(REPORTS[name], path, tmp_path))
    assert done.exit_code in ((0, 1, 3) if name == "fit" else (0, 1))
    assert "‹U+202E›two" in done.stdout
    assert unseen(done.output) == set()


@pytest.mark.parametrize("name", ["check", "draw to PDF", "page"])
def test_control_characters_are_refused_with_their_place(name: str, tmp_path: Path) -> None:
    for character in "\x00\x07\x1b\x7f\x9b":
        path = written(tmp_path, with_text_everywhere(f"clear{character}[2J"))
        done = ran(*spelt(EVERY[name], path, tmp_path))
        assert done.exit_code == 2
        assert f"{path}:1:" in done.stderr
        assert unseen(done.output) == set()
    assert sorted(tmp_path.iterdir()) == [path]


class Tags(html.parser.HTMLParser):
    """Every tag with the names of its attributes, and what addresses it points to."""

    def __init__(self, text: str) -> None:
        super().__init__()
        self.found: set[tuple[str, tuple[str, ...]]] = set()
        self.addresses: set[str] = set()
        self.feed(text)
        self.close()

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.found.add((tag, tuple(sorted(name for name, _ in attrs))))
        pointing = ("href", "src", "action", "xlink:href", "formaction", "srcset", "data")
        self.addresses |= {value or "" for name, value in attrs if name in pointing}


def page_of(folder: Path, text: str) -> Tags:
    path = written(folder, with_text_everywhere(text))
    done = ran(*spelt(FILES["page"], path, folder))
    assert done.exit_code == 0
    return Tags((folder / "page.html").read_text("utf-8"))


def test_hostile_text_is_text_on_the_page(tmp_path: Path) -> None:
    """The page of a hostile spec is built of the same tags as that of a harmless one."""
    hostile, harmless = (page_of(tmp_path, text) for text in (MARKUP, PLAIN))
    assert {tag for tag, _ in hostile.found} <= {tag for tag, _ in harmless.found}
    known = {name for _, names in harmless.found for name in names}
    assert {name for _, names in hostile.found for name in names} <= known
    assert not [name for name in known if name.startswith("on")]
    outside = [a for a in hostile.addresses if a and not a.startswith(("#", "data:"))]
    assert outside == []


def test_hostile_text_is_text_in_an_svg(tmp_path: Path) -> None:
    path = written(tmp_path, with_text_everywhere(MARKUP))
    assert ran(*spelt(FILES["draw to SVG"], path, tmp_path)).exit_code == 0
    drawn = sorted(tmp_path.glob("*.svg"))
    assert drawn
    for file in drawn:
        tree = ET.fromstring(file.read_bytes())
        names = {node.tag.rpartition("}")[2] for node in tree.iter()}
        assert not names & {"script", "foreignObject", "a", "img", "iframe", "image"}
        attributes = {name.rpartition("}")[2] for node in tree.iter() for name in node.attrib}
        assert not [name for name in attributes if name.startswith("on")]
        assert "<script>alert(1)</script>" in "".join(tree.itertext())


@pytest.mark.parametrize("name", ["draw to PDF", "sheet"])
def test_hostile_text_is_text_in_a_pdf(name: str, tmp_path: Path) -> None:
    """Keys that act are those of ISO 32000-1, 12.6.4 (from memory)."""
    path = written(tmp_path, with_text_everywhere(MARKUP))
    assert ran(*spelt(FILES[name], path, tmp_path)).exit_code == 0
    file = next(tmp_path.glob("*.pdf"))
    reader = pypdf.PdfReader(file, strict=True)
    keys = {key for one in all_dictionaries(reader) for key in one}
    assert not keys & {"/JS", "/JavaScript", "/OpenAction", "/AA", "/URI", "/Launch"}
    assert set(reader.attachments) <= {"spec.yaml"}
    words = "".join("".join(page.extract_text().split()) for page in reader.pages)
    assert "<script>alert(1)</script>" in words
    assert "\\input{/etc/passwd}" in words


def all_dictionaries(reader: pypdf.PdfReader) -> Iterator[dict[str, object]]:
    for number in range(1, len(reader.xref_objStm) + sum(map(len, reader.xref.values())) + 1):
        found = reader.get_object(pypdf.generic.IndirectObject(number, 0, reader))
        if isinstance(found, dict):
            yield found
