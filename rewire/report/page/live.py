"""What the page's script looks up: contacts, nets and wires of each wiring.

Linear in the rig: ties are worked out in the page from the contacts, position by position, so
the product of all controls never stands in the file.
"""

from __future__ import annotations

from rewire.circuit.circuit import circuit_of
from rewire.records.spec import Spec, Wiring
from rewire.report.page.carried import Data, paths_data
from rewire.report.page.numbers import At, state_numbers
from rewire.report.page.texts import seen
from rewire.values.assemble import Worked


def controls_data(spec: Spec) -> list[Data]:
    """Controls with their positions in order of travel, as they are shown."""
    return [
        {
            "name": seen(control.name),
            "positions": [seen(position) for position in control.positions],
            "wraps": control.wraps,
        }
        for control in spec.controls.values()
    ]


def never_data(spec: Spec) -> list[At]:
    """States that cannot occur."""
    return [state_numbers(spec, item) for item in spec.never]


def wiring_data(spec: Spec, wiring: Wiring, worked: Worked | None) -> Data:
    """One wiring: its terminals with their nets, its contacts, wires, and live paths.

    Args:
        spec: the checked model.
        wiring: one of its wirings.
        worked: its values; None where a limit was reached, and no path is known.
    """
    nets = circuit_of(spec, wiring).nets
    number = {name: n for n, name in enumerate(nets.of)}
    order = list(spec.controls)
    contacts = [
        {
            "switch": contact.switch,
            "control": order.index(contact.control),
            "closed": [
                [[number[f"{contact.switch}.{lug}"] for lug in group] for group in groups]
                for groups in contact.section.groups
            ],
        }
        for contact in circuit_of(spec, wiring).contacts
    ]
    wires = [{"id": w.id, "ends": [number[end] for end in w.ends]} for w in wiring.wires]
    return {
        "name": wiring.name,
        "computed": worked is not None,
        "terminals": list(nets.of),
        "nets": list(nets.of.values()),
        "contacts": contacts,
        "wires": wires,
        "paths": paths_data(spec, worked) if worked is not None else [],
    }
