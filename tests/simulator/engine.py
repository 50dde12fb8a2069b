"""ngspice in batch: many circuits side by side in one deck, an operating point of them all."""

import shutil
import struct
import subprocess
import tempfile
from collections.abc import Iterator, Sequence
from pathlib import Path

from tests.simulator.netlist import Circuit

MOST = 25_000
"""Circuits in one deck."""
# Is and n as SPICE has them for a diode that says nothing else, and of a common small-signal
# type; from memory.
MODELS = ".model ideal D(Is=1e-14 N=1)\n.model small D(Is=2.52e-9 Rs=0.568 N=1.752)\n"


def volts(circuits: Sequence[Circuit], diode: str = "small") -> Iterator[dict[str, float]]:
    """Volts of every node of every circuit, each piece against the node it goes by."""
    for start in range(0, len(circuits), MOST):
        yield from _deck(circuits[start : start + MOST], diode)


def _deck(circuits: Sequence[Circuit], diode: str) -> Iterator[dict[str, float]]:
    lines, names = ["circuits side by side\n", MODELS], []
    for number, circuit in enumerate(circuits):
        names.append(_write(circuit, number, diode, lines))
    lines.append(".options reltol=1e-9 vntol=1e-12 abstol=1e-15 gmin=1e-18 itl1=500\n.op\n.end\n")
    read = _run("".join(lines))
    for number, nodes in enumerate(names):
        yield {
            name: 0.0 if i is None else read.get(f"v(n{number}_{i})", 0.0)
            for name, i in nodes.items()
        }


def _write(circuit: Circuit, number: int, diode: str, lines: list[str]) -> dict[str, int | None]:
    """The circuit's lines; its nodes → their number, None for ground."""
    pieces = circuit.grounds()
    nodes: dict[str, int | None] = {}

    def of(node: str) -> str:
        if node not in nodes:
            nodes[node] = None if pieces(node) == node else len(nodes)
        return "0" if nodes[node] is None else f"n{number}_{nodes[node]}"

    for i, ((one, other), ohms) in enumerate(circuit.resistors.values()):
        lines.append(f"R{number}_{i} {of(one)} {of(other)} {float(ohms)!r}\n")
    for i, ((one, other), amps) in enumerate(circuit.currents):
        lines.append(f"I{number}_{i} {of(other)} {of(one)} {float(amps)!r}\n")
    for i, (anode, cathode) in enumerate(circuit.silicon):
        lines.append(f"D{number}_{i} {of(anode)} {of(cathode)} {diode}\n")
    if source := circuit.source:
        top = f"s{number}" if source.ohms else of(source.ends[0])
        lines.append(f"V{number} {top} {of(source.ends[1])} {float(source.volts)!r}\n")
        if source.ohms:
            lines.append(f"RS{number} {top} {of(source.ends[0])} {float(source.ohms)!r}\n")
    return nodes


def _run(deck: str) -> dict[str, float]:
    place = shutil.which("ngspice")
    if not place:
        raise FileNotFoundError(
            "no ngspice on the PATH: run 'make simulator', which installs it or says how"
        )
    with tempfile.TemporaryDirectory() as folder:
        file, raw = Path(folder, "deck.cir"), Path(folder, "deck.raw")
        file.write_text(deck, encoding="utf-8")
        command = [place, "-n", "-b", "-r", str(raw), str(file)]
        done = subprocess.run(command, capture_output=True, text=True, check=False)
        if done.returncode or not raw.exists():
            raise RuntimeError(f"ngspice: {done.stdout[-2000:]}{done.stderr[-2000:]}")
        return _values(raw.read_bytes())


def _values(raw: bytes) -> dict[str, float]:
    """A raw file of one point: names in its head, then as many binary doubles."""
    head, _, body = raw.partition(b"Binary:\n")
    _, _, listed = head.decode().partition("Variables:\n")
    names = [line.split("\t")[2] for line in listed.splitlines() if line]
    numbers = struct.unpack(f"<{len(names)}d", body[: 8 * len(names)])
    return dict(zip(names, numbers, strict=True))
