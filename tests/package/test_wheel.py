"""The wheel is built, installed into an environment of its own, and run far from the repository.

The new environment finds the libraries of this one by a path, which brings no editable install
along: what it imports as ``rewire`` can only come from the wheel. So nothing is downloaded.
"""

from __future__ import annotations

import ast
import json
import os
import shutil
import site
import subprocess
import sys
import zipfile
from collections.abc import Sequence
from dataclasses import dataclass
from email import message_from_bytes
from importlib.metadata import packages_distributions, requires
from pathlib import Path

import pytest
from packaging.requirements import Requirement
from packaging.utils import canonicalize_name

from rewire.reading import json_schema

ROOT = Path(__file__).parents[2]
FLAGSHIP = ROOT / "specs" / "valve-amplifier.yaml"


@dataclass(frozen=True)
class Installed:
    """A wheel, and the environment that it was installed into."""

    sources: frozenset[str]
    """Files of the package when the wheel was built."""
    wheel: Path
    bin: Path
    folder: Path

    def run(self, *line: str) -> subprocess.CompletedProcess[str]:
        """Run a program of the environment, with nothing of this one's about it."""
        kept = {k: v for k, v in os.environ.items() if not k.startswith(("PYTHON", "COLUMNS"))}
        return subprocess.run(
            [str(self.bin / line[0]), *line[1:]], cwd=self.folder, env=kept,
            capture_output=True, text=True, timeout=300, check=False,
        )  # fmt: skip


def done(line: Sequence[str | Path]) -> None:
    """Run a tool of this environment that must succeed."""
    run = subprocess.run(
        list(map(str, line)), cwd=ROOT, capture_output=True, text=True, timeout=300, check=False
    )
    assert run.returncode == 0, run.stdout + run.stderr


@pytest.fixture(scope="module")
def installed(tmp_path_factory: pytest.TempPathFactory) -> Installed:
    folder = tmp_path_factory.mktemp("wheel")
    there = {path.relative_to(ROOT) for path in (ROOT / "rewire").rglob("*") if path.is_file()}
    sources = frozenset(path.as_posix() for path in there if "__pycache__" not in path.parts)
    pip = [sys.executable, "-m", "pip", "--disable-pip-version-check", "--quiet"]
    done([*pip, "wheel", "--no-deps", "--no-build-isolation", "--wheel-dir", folder, ROOT])
    (wheel,) = folder.glob("rewire-*.whl")
    place = folder / "env"
    done([sys.executable, "-m", "venv", "--without-pip", place])
    done([*pip, "--python", place / "bin" / "python", "install", "--no-deps", "--no-index", wheel])
    (own,) = place.glob("lib/python*/site-packages")
    (own / "libraries.pth").write_text("\n".join(site.getsitepackages()) + "\n", "utf-8")
    far = folder / "far"
    far.mkdir()
    shutil.copy(FLAGSHIP, far / "swap.yaml")
    shutil.copytree(FLAGSHIP.parent / "scans", far / "scans")
    return Installed(sources, wheel, place / "bin", far)


def test_it_is_the_wheels_rewire_that_runs(installed: Installed) -> None:
    told = installed.run("python", "-c", "import rewire; print(rewire.__file__)")
    assert told.returncode == 0, told.stderr
    assert Path(told.stdout.strip()).is_relative_to(installed.bin.parent)
    version = installed.run("rewire", "--version")
    assert version.stdout == f"rewire {installed.wheel.name.split('-')[1]}\n"


def test_it_checks_prints_and_writes_without_the_repository(installed: Installed) -> None:
    """Each command here reads files that must be in the wheel: meanings, templates, starters."""
    check = installed.run("rewire", "check", "swap.yaml")
    assert (check.returncode, check.stderr) == (0, "")  # the plan is good
    assert "\nBROKEN: as-found" in check.stdout
    schema = json.loads(installed.run("rewire", "schema").stdout)
    assert schema == json_schema()
    for output in ("swap.html", "swap.pdf"):
        line = ("rewire", "sheet", "swap.yaml", "--wiring", "substitute", "--output", output)
        sheet = installed.run(*line, "--sections", "verdict,log")
        assert sheet.returncode == 0, sheet.stderr
        assert (installed.folder / output).stat().st_size > 1000
    for kind in ("meter-switch", "meter", "jack"):
        assert installed.run("rewire", "new", "--kind", kind, f"{kind}.yaml").returncode == 0
        assert installed.run("rewire", "check", f"{kind}.yaml").returncode == 0


def test_everything_of_the_package_is_in_the_wheel_and_nothing_else(installed: Installed) -> None:
    with zipfile.ZipFile(installed.wheel) as wheel:
        names = {name for name in wheel.namelist() if ".dist-info/" not in name}
        info = {name.partition(".dist-info/")[2] for name in wheel.namelist()} - {""}
    assert installed.sources <= names
    assert all(name.startswith("rewire/") for name in names)
    assert {"licenses/LICENSE", "entry_points.txt", "METADATA"} <= info


def test_every_library_that_is_imported_is_required(installed: Installed) -> None:
    """By the imports themselves, through which distribution brings which package."""
    with zipfile.ZipFile(installed.wheel) as wheel:
        (metadata,) = (name for name in wheel.namelist() if name.endswith(".dist-info/METADATA"))
        told = message_from_bytes(wheel.read(metadata)).get_all("Requires-Dist") or []
        sources = [wheel.read(name) for name in wheel.namelist() if name.endswith(".py")]
    asked = [Requirement(text) for text in told]
    required = {canonicalize_name(one.name) for one in asked if one.marker is None}
    required |= {name for one in tuple(required) for name in pinned_by(one)}
    brought = packages_distributions()
    for package in sorted(imported(sources) - sys.stdlib_module_names - {"rewire"}):
        by = {canonicalize_name(name) for name in brought[package]}
        assert by & required, f"{package} is imported, and no requirement brings it"


def pinned_by(name: str) -> set[str]:
    """What a library requires in one version and no other, and so always brings along."""
    asked = [Requirement(text) for text in requires(name) or []]
    return {canonicalize_name(one.name) for one in asked if str(one.specifier).startswith("==")}


def imported(sources: Sequence[bytes]) -> set[str]:
    """Top names of all packages that are imported by their full name."""
    found = set()
    for source in sources:
        for node in ast.walk(ast.parse(source)):
            if isinstance(node, ast.Import):
                found |= {alias.name.partition(".")[0] for alias in node.names}
            elif isinstance(node, ast.ImportFrom) and node.level == 0 and node.module:
                found.add(node.module.partition(".")[0])
    return found
