"""What is filled in at the end: acceptance tests, the as-built log, who answers for the paper."""

from __future__ import annotations

from collections.abc import Iterator

from rewire import __version__
from rewire.records.spec import Acceptance, Pot, Resistor, Spec
from rewire.report.packet import Packet
from rewire.report.section import Block, Cell, Section, Table, row, used_columns

_BLANK_LINES = 4


def acceptance_section(spec: Spec) -> Section:
    """Tests of the finished set, with room for what was found."""
    if not spec.acceptance:
        return Section("acceptance", "Acceptance tests", ())
    table = Table(
        ("", "test", "how", "expect", "found"),
        tuple(_test(test) for test in spec.acceptance),
        (5, 46, 66, 36, 34),
    )
    return Section("acceptance", "Acceptance tests", (used_columns(table, ("", "found")),))


def _test(test: Acceptance) -> tuple[Cell, ...]:
    return (
        Cell(box=True), Cell(test.test, bold=True), *row(test.how or "", test.expect),
        Cell(blank=True),
    )  # fmt: skip


def log_section(packet: Packet) -> Section:
    """The as-built log: what was fitted, as measured, and what came out otherwise than planned."""
    blocks: list[Block] = [_identity()]
    for wiring in packet.plans:
        measured = tuple(_measured(packet, wiring.name))
        if measured:
            head = ("part", "planned", "fitted, as measured")
            title = f"Values fitted: {wiring.name}"
            blocks.append(Table(head, measured, (30.0, 70.0, 90.0), title))
    blocks.append(
        Table(
            ("lug, wire or part", "otherwise than this sheet says, and why"),
            tuple((Cell(blank=True), Cell(blank=True)) for _ in range(_BLANK_LINES)),
            (60.0, 130.0),
            "Differences from this sheet",
        )
    )
    return Section("log", "As-built log", tuple(blocks))


def _identity() -> Table:
    names = ("serial number", "wiring fitted", "work done by", "date", "checked by", "date")
    pairs = zip(names[::2], names[1::2], strict=True)
    rows = tuple(
        (Cell(a, bold=True), Cell(blank=True), Cell(b, bold=True), Cell(blank=True))
        for a, b in pairs
    )
    return Table(("", "", "", ""), rows, (28.0, 66.0, 28.0, 66.0))


def _measured(packet: Packet, wiring: str) -> Iterator[tuple[Cell, ...]]:
    values = packet.values.get(wiring)
    settings = {p.part: p.setting_percent for p in values.pots} if values else {}
    chosen = {fit.part: fit.chosen for fit in values.fits} if values else {}
    for part in packet.spec.wirings[wiring].parts.values():
        if isinstance(part, Resistor) and part.fit_for:
            yield Cell(part.name, bold=True), Cell(chosen.get(part.name) or ""), Cell(blank=True)
        elif isinstance(part, Pot):
            at = settings.get(part.name, part.setting_percent)
            said = "" if at is None else f"{at:.1f} % of travel from ccw"
            yield Cell(part.name, bold=True), Cell(said), Cell(blank=True)


def document_section(spec: Spec) -> Section:
    """Who answers for the paper, its licence and revision, and the spec it was made from."""
    document = spec.document
    fields = (
        ("drawn up by", document.author), ("date", document.date),
        ("revision", document.revision), ("licence", document.licence),
        ("spec", f"SHA-256 {spec.digest}" if spec.digest else None),
        ("made with", f"rewire {__version__}"),
    )  # fmt: skip
    rows = tuple((Cell(name, bold=True), Cell(value)) for name, value in fields if value)
    return Section("document", "Document", (Table(("", ""), rows, (30.0, 160.0)),))
