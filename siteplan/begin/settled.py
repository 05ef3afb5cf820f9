"""What the files prove and a person answered in.

Each key of the new site.toml with its reason, or its question, out.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import NamedTuple

from siteplan import units
from siteplan.begin.given import Found, Given, Proof
from siteplan.errors import InputError
from siteplan.survey.frame import axis_unit, crs_of, horizontal

_AMONG = 0.8  # share of the points that must lie on what is mapped, either order
# as crews assume them: 5000, 5000 and the like; grids of states and zones bear false eastings beyond it (memory)
_ASSUMED = 50_000.0
_NEAR = 0.2  # of its extent, and so far beside it


class Settled(NamedTuple):
    """A key's value and why, or, where `value` is None, the question that stays open."""

    value: str | None
    why: str


def settled_keys(given: Given, found: Found) -> dict[str, Settled]:
    """The system and the units of a site that is begun.

    Parameters
    ----------
    given : Given
        Files and answers.
    found : Found
        What the files prove.

    Returns
    -------
    dict of str to Settled
        crs, length_unit, elevation_unit; with points, points_order, points_unit and points_elevation_unit where a line
        is to be written for them.

    Raises
    ------
    InputError
        For a system that nobody knows, or 'local' beside files that name one.
    """
    crs = _crs(given, found)
    axis = None if crs.value in (None, "local") else axis_unit(horizontal(crs_of(str(crs.value), "crs"), "crs"))
    length = _length_unit(given, found, crs, axis)
    height = _elevation_unit(given, found)
    told = {"crs": crs, "length_unit": length, "elevation_unit": height}
    if given.points is None:
        return told
    if given.order is not None:
        told["points_order"] = Settled(given.order, "as --order says")
    elif "points_order" in found.questions:
        told["points_order"] = Settled(None, _asked(found.questions["points_order"]))
    own = axis or length.value
    for key, proofs, site in (
        ("points_unit", found.proofs.get("coordinates", ()), own),
        ("points_elevation_unit", found.proofs.get("elevation_unit", ()), height.value),
    ):
        of_list = [one for one in proofs if one.file == given.points]
        # lengths may be told in another unit than the coordinates of a system that a file proves
        of_lengths = key == "points_unit" and axis is not None and given.crs is None and given.unit is not None
        if (
            of_list
            and site is not None
            and of_list[0].value != site
            and not (of_lengths and of_list[0].value == given.unit)
        ):
            told[key] = Settled(of_list[0].value, of_list[0].why)
    return told


def _asked(fault: InputError) -> str:
    return f"{fault.what} {fault.mend}"


def _crs(given: Given, found: Found) -> Settled:
    proofs = found.proofs.get("crs", ())
    if given.crs is not None:
        if given.crs.lower() == "local":
            if proofs:
                raise InputError(
                    "--crs local",
                    f"speaks against a file: {proofs[0].why}",
                    f"Leave --crs out, or give --crs {proofs[0].value}.",
                )
            return Settled("local", "as --crs says: an assumed grid")
        horizontal(crs_of(given.crs, "--crs"), "--crs")
        return Settled(given.crs, "as --crs says")
    on_a_plane = [
        word
        for word, one in (("the points", given.points), ("the surface", given.tin), ("the deed", given.deed))
        if one
    ]
    if not proofs:
        if not on_a_plane and not given.features and given.grid is None:
            return Settled(
                "local", "nothing given stands in a system: an assumed grid of your own; change it before you draw"
            )
        return Settled(
            None,
            (
                "Nothing given names the system of its coordinates. Is it an assumed grid of the crew's own, or "
                f"which system?{_small(found)}"
            ),
        )
    flat = [one for one in proofs if axis_unit(horizontal(crs_of(one.value, "crs"), "crs")) is not None]
    chosen = (flat or list(proofs))[0]
    if not on_a_plane:
        return Settled(chosen.value, chosen.why)
    if not flat:
        return Settled(
            None,
            (
                f"{chosen.why}, which is in degrees, and {_and(on_a_plane)} are on a plane. Which projected "
                "system are they in?"
            ),
        )
    among = _share(found, chosen.value)
    if given.deed is None and among >= _AMONG:
        return Settled(chosen.value, f"{chosen.why}, and {among:.0%} of the points lie on it")
    return Settled(
        None,
        (
            f"{chosen.why}, and {_and(on_a_plane)} "
            f"name{'s' if len(on_a_plane) == 1 and on_a_plane[0] != 'the points' else ''} none. Are they in that "
            "system too?"
        ),
    )


def _small(found: Found) -> str:
    """What speaks for an assumed grid: figures too small for the grid of a state or a zone."""
    most = max((abs(c) for place in found.places for c in place), default=0.0)
    if not 0 < most < _ASSUMED:
        return ""
    return (
        f" No coordinate of the list is beyond {most:,.0f}, which speaks for an assumed grid: those of states "
        "and zones begin higher "
        "(common practice, no source)."
    )


def _and(words: Sequence[str]) -> str:
    return " and ".join(words)


def _share(found: Found, code: str) -> float:
    """Share of the points that lie on what is mapped in a system, in the better order."""
    boxes = [box for name, box in found.extents if name == code]
    if not boxes or not found.places:
        return 0.0
    west, south = min(box[0] for box in boxes), min(box[1] for box in boxes)
    east, north = max(box[2] for box in boxes), max(box[3] for box in boxes)
    wide, high = _NEAR * (east - west), _NEAR * (north - south)
    orders = (found.places, [(b, a) for a, b in found.places])
    return max(
        sum(west - wide <= x <= east + wide and south - high <= y <= north + high for x, y in places)
        for places in orders
    ) / len(found.places)


def _unanimous(proofs: Sequence[Proof]) -> Proof | None:
    return proofs[0] if len({one.value for one in proofs}) == 1 else None


def _length_unit(given: Given, found: Found, crs: Settled, axis: str | None) -> Settled:
    if given.unit is not None:
        return Settled(given.unit, "as --unit says")
    proofs = found.proofs.get("coordinates", ())
    if crs.value in (None, "local") and (one := _unanimous(proofs)):
        return Settled(one.value, one.why)
    if axis is not None and not found.lengths_written:
        return Settled(axis, f"that of {crs.value}'s coordinates; no attribute with a length is written yet")
    what = "The features bear figures in it (such as roof_area)." if found.lengths_written else ""
    return Settled(
        None, f"In which unit are lengths and attributes, and coordinates of an assumed grid? {what}".strip()
    )


def _elevation_unit(given: Given, found: Found) -> Settled:
    if given.elevation_unit is not None:
        return Settled(given.elevation_unit, "as --elevation-unit says")
    proofs = found.proofs.get("elevation_unit", ())
    if one := _unanimous(proofs):
        return Settled(one.value, one.why)
    if proofs:
        return Settled(
            None, f"The files disagree: {'; '.join(one.why for one in proofs)}. In which unit are elevations?"
        )
    if given.unit is not None:
        return Settled(given.unit, "as --unit says")
    return Settled(None, "In which unit are elevations?")


def unit_words() -> str:
    """The units a site may have, as a comment names them.

    Returns
    -------
    str
        In quotes, each with its full name.
    """
    words = {"ft": "international feet", "us-ft": "US survey feet", "m": "metres"}
    return ", ".join(f'"{unit}" ({words[unit]})' for unit in units.SITE_UNITS)
