"""What goes wrong: a message and a status for the user's faults, a traceback for our own."""

from __future__ import annotations

import itertools
import pickle
import subprocess
import sys
from collections.abc import Sequence
from pathlib import Path

import pytest
from click.testing import CliRunner

from rewire import compare as comparing
from rewire.circuit import LimitReached
from rewire.cli import rewire
from rewire.cli.check import check_one
from rewire.cli.trouble import Complaint, Trouble, trouble_of, worst_of
from rewire.reading import SpecError, read_text

FLAGSHIP = str(Path(__file__).parents[2] / "specs" / "valve-amplifier.yaml")


def test_the_worst_status_is_2_over_3_over_1_over_0() -> None:
    rank = {2: 3, 3: 2, 1: 1, 0: 0}
    for length in range(5):
        for statuses in itertools.product(rank, repeat=length):
            assert worst_of(statuses) == max(statuses, key=rank.__getitem__, default=0)


def test_every_fault_of_a_spec_keeps_its_place() -> None:
    with pytest.raises(SpecError) as caught:
        read_text(b"rewire: 1\ntitel: x\n", "a.yaml")
    trouble = trouble_of(caught.value)
    assert trouble.status == 2
    assert len(trouble.complaints) == len(caught.value.faults)
    assert any(str(c).startswith("a.yaml:2:1: ") for c in trouble.complaints)


def test_a_limit_names_the_spec_it_was_reached_in() -> None:
    trouble = trouble_of(LimitReached("too many positions"), "a.yaml")
    assert trouble == Trouble(3, (Complaint("too many positions", "a.yaml"),))


@pytest.mark.parametrize(
    "fault", [ValueError("x"), KeyError("x"), RuntimeError(), AssertionError()]
)
def test_our_own_faults_are_not_dressed_up_as_the_users(fault: Exception) -> None:
    with pytest.raises(type(fault)) as raised:
        trouble_of(fault)
    assert raised.value is fault


def test_our_own_fault_in_a_command_is_raised(monkeypatch: pytest.MonkeyPatch) -> None:
    def compare(*_args: object) -> None:
        raise ZeroDivisionError

    monkeypatch.setattr(comparing, "compare", compare)
    done = CliRunner().invoke(rewire, ["check", FLAGSHIP])
    assert isinstance(done.exception, ZeroDivisionError)


def test_ctrl_c_ends_with_130_and_no_traceback(monkeypatch: pytest.MonkeyPatch) -> None:
    def compare(*_args: object) -> None:
        raise KeyboardInterrupt

    monkeypatch.setattr(comparing, "compare", compare)
    done = CliRunner().invoke(rewire, ["check", FLAGSHIP])
    assert (done.exit_code, done.stdout, done.stderr) == (130, "", "")


def test_what_comes_of_a_spec_can_cross_between_processes() -> None:
    for file in (FLAGSHIP, "missing.yaml"):
        outcome = check_one(file, ())
        assert pickle.loads(pickle.dumps(outcome)) == outcome


KILLED = """
import os, signal
import rewire.compare
from rewire.cli import rewire as command
rewire.compare.compare = lambda *args: os.kill(os.getpid(), signal.SIGKILL)
command(["check", {file!r}, {file!r}, "--jobs", "2", "--json"], prog_name="rewire")
"""


def in_python(program: str) -> tuple[int, Sequence[str]]:
    done = subprocess.run(
        [sys.executable, "-c", program], capture_output=True, text=True, check=False
    )
    return done.returncode, done.stderr.splitlines()


def test_a_worker_ended_from_outside_is_said_for_each_spec() -> None:
    status, said = in_python(KILLED.format(file=FLAGSHIP))
    assert status == 2
    assert len(said) == 2
    for line in said:
        assert line.startswith(f"{FLAGSHIP}: the process that checked it was ended")
