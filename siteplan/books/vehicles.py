"""What drives over a line: wheel loads and their patches on the ground, each with its source."""

from __future__ import annotations

from typing import NamedTuple

from siteplan import units


class Vehicle(NamedTuple):
    """The wheel that counts: its load and its patch on the ground. SI."""

    id: str
    marked: str  # its title with the load as `units.spoken` reads it
    wheel: float  # load of one wheel or dual pair [N]
    width: float  # of the patch across the travel
    length: float  # of the patch along the travel
    presence: float  # multiple-presence factor; 1 for a known vehicle
    source: str
    basis: str

    @property
    def title(self) -> str:
        """What it is called where pounds are used."""
        return units.spoken(self.marked, "ft")


def _vehicle(
    name: str, title: str, pounds: float, width_ft: float, length_ft: float, presence: float, source: str, basis: str
) -> Vehicle:
    return Vehicle(
        name, title, pounds * units.POUND_FORCE, width_ft * units.FOOT, length_ft * units.FOOT, presence, source, basis
    )


VEHICLES: tuple[Vehicle, ...] = (
    _vehicle("car", "car, wheel [1250 lb]", 1250, 7 / 12, 7 / 12, 1.0, "ordinary car, wheel share and patch", "memory"),
    _vehicle("pickup", "loaded pickup, wheel [3000 lb]", 3000, 0.75, 2 / 3, 1.0, "ordinary pickup, wheel share and patch", "memory"),
    _vehicle("skid_loader", "loaded skid loader, wheel [4000 lb]", 4000, 0.83, 0.67, 1.0, "machine of 8000 lb with load, mostly on two wheels", "memory"),
    _vehicle("axle", "truck at the legal single axle, dual [10000 lb]", 10000, 20 / 12, 10 / 12, 1.0, "23 CFR 658.17 (20000 lb axle); patch AASHTO LRFD 3.6.1.2.5", "read"),
    _vehicle("concrete_truck", "loaded concrete truck under permit, dual [11500 lb]", 11500, 20 / 12, 10 / 12, 1.0, "axle of 23000 lb by state permit; patch AASHTO LRFD 3.6.1.2.5", "memory"),
    _vehicle("truck", "H-20 design truck, wheel [16000 lb]", 16000, 20 / 12, 10 / 12, 1.2, "Buried Pipe Design (Moser), ch. 2; patch AASHTO LRFD 3.6.1.2.5", "read"),
)  # fmt: skip
CONSTRUCTION = ("skid_loader", "concrete_truck")  # what crosses a bare trench before it is paved
DESIGN = {"car": "pickup", "truck": "truck"}  # what a feature's `vehicle` is judged by: the heavier of its kind
USUAL = "car"  # of a driveway whose survey names no vehicle


def vehicle(name: str) -> Vehicle:
    """A vehicle by its id.

    Parameters
    ----------
    name : str
        car, pickup, skid_loader, axle, concrete_truck or truck (H-20).

    Returns
    -------
    Vehicle
        Wheel load and patch.

    Raises
    ------
    KeyError
        If there is none of that name.
    """
    for entry in VEHICLES:
        if entry.id == name:
            return entry
    raise KeyError(f"no vehicle {name!r}; known: {', '.join(entry.id for entry in VEHICLES)}")
