"""Bedding, stone and frost: rules as data with their sources, and what they say of one pipe."""

from __future__ import annotations

from typing import Literal, NamedTuple

from siteplan import units
from siteplan.units import INCH

Bottom = Literal["firm", "soft"]


class Fact(NamedTuple):
    """One figure for a trench, SI; None for a rule without a figure."""

    id: str
    title: str
    value: float | None
    unit: str  # m | diameters | ""
    source: str
    basis: str  # read | memory
    authority: str  # law | code | standard | practice | local


_CITY = "Chicago municipal code 18-29-306 (IPC based)"
FACTS: tuple[Fact, ...] = (
    Fact(
        "soft-over-dig",
        "over-dig of a soft bottom, then refill with fine gravel or crushed stone",
        2,
        "diameters",
        f"{_CITY}.2.3",
        "read",
        "code",
    ),
    Fact("backfill-layer", "layer of backfill, tamped", 6 * INCH, "m", "IRC 2018 P2604.3", "read", "code"),
    Fact(
        "clean-backfill",
        "clean backfill over the pipe",
        12 * INCH,
        "m",
        "California Plumbing Code 2014, 314.4",
        "read",
        "code",
    ),
    Fact(
        "stone",
        "largest stone near pipe of 3 to 8 in, none sharp",
        0.75 * INCH,
        "m",
        "trade practice; ASTM D2321 allows twice that",
        "memory",
        "practice",
    ),
    Fact(
        "continuous-bed",
        "pipe in the ground lies on a firm bed for its whole length, not on blocks",
        None,
        "",
        "IRC 2006 P2605.1; Chicago 18-29-306.1",
        "read",
        "code",
    ),
)


def fact(name: str) -> Fact:
    """One rule by its id.

    Parameters
    ----------
    name : str
        Such as 'stone'.

    Returns
    -------
    Fact
        The figure, its source and what kind of rule it is.

    Raises
    ------
    KeyError
        If there is none.
    """
    for entry in FACTS:
        if entry.id == name:
            return entry
    raise KeyError(f"no trench rule {name!r}")


def bedding_rule(od: float, bottom: Bottom, unit: str = "ft") -> tuple[str, ...]:
    """What to put under and round a pipe, as sentences for the schedule.

    Parameters
    ----------
    od : float
        Outside diameter [m].
    bottom : str
        firm or soft.
    unit : str
        The site's length unit.

    Returns
    -------
    tuple of str
        The rule for the bottom first; each ends with its source.

    Raises
    ------
    ValueError
        If the bottom is none of these.

    References
    ----------
    `FACTS`.
    """
    stone, clean, layer = fact("stone"), fact("clean-backfill"), fact("backfill-layer")
    first = {
        "firm": (
            "Dig to grade and no deeper, by hand at the end; the pipe lies on firm ground for its whole length, "
            "with holes dug for bells"
        ),
        "soft": (
            f"Over-dig {units.short_text(2 * od, unit, 1)} (two diameters) or more and refill with stone in "
            f"{units.short_text(layer.value or 0.0, unit)} tamped layers"
        ),
    }
    source = {"firm": "continuous-bed", "soft": "soft-over-dig"}
    if bottom not in first:
        raise ValueError(f"a trench bottom is {', '.join(first)}, not {bottom!r}")
    return (
        f"{first[bottom]} ({fact(source[bottom]).source}).",
        (
            "No stone over "
            f"{units.short_text(stone.value or 0.0, unit) if unit == 'm' else units.inches_text(stone.value or 0.0)}, "
            f"and none sharp, against the pipe ({stone.source}, from memory)."
        ),
        (
            f"Clean fill to {units.short_text(clean.value or 0.0, unit)} over the pipe ({clean.source}), in "
            f"{units.short_text(layer.value or 0.0, unit)} tamped layers ({layer.source})."
        ),
    )


def frost_note(frost: float | None, top: float, *, empties: bool, pumped: bool = False, unit: str = "ft") -> str:
    """What frost means for a line, as information.

    Parameters
    ----------
    frost : float or None
        Depth of frost at the place [m]; None: not known.
    top : float
        Least depth of the pipe's top below ground [m].
    empties : bool
        Whether the line drains itself, with no belly.
    pumped : bool
        Whether a pump feeds it.
    unit : str
        The site's length unit.

    Returns
    -------
    str
        One or two sentences.

    References
    ----------
    An engineers' forum on lines that daylight (read); contractors' advice pages on pump lines (read).
    """
    if frost is None:
        note = (
            "Depth of frost is not known: ask the local building office. A storm line that empties itself may "
            "lie above it; one with a belly may not."
        )
    elif top >= frost:
        note = f"The line lies below frost ({units.length_text(frost, unit, 1)})."
    elif empties:
        note = (
            f"The line lies above frost ({units.length_text(frost, unit, 1)}); it empties itself, which is what "
            "is usually accepted. Keep the outlet clear of ice."
        )
    else:
        note = (
            f"The line lies above frost ({units.length_text(frost, unit, 1)}) and holds water in a belly: mend "
            "the belly, or lay it deeper."
        )
    if pumped:
        note += (
            " The pump's line needs an open gap or relief fitting just outside the wall, so that a frozen outlet "
            "spills outside."
        )
    return note
