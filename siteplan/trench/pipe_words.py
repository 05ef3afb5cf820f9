"""Reaches in words: short names of pipes, bedding, couplings, in the site's units."""

from __future__ import annotations

from siteplan import units
from siteplan.bedding.trench import fact
from siteplan.values import Pipe

_SHORT = {
    "pvc_sch40": "schedule 40 PVC",
    "pvc_sdr35": "SDR 35 PVC",
    "pvc_thin": "thin-wall PVC",
    "pe_corr_single": "single-wall corrugated PE",
    "pe_corr_dual": "dual-wall corrugated PE",
}


def short(pipe: Pipe) -> str:
    """A pipe's kind in a few words.

    Parameters
    ----------
    pipe : Pipe
        Any pipe.

    Returns
    -------
    str
        Its title where the book has no short name.
    """
    return _SHORT.get(pipe.kind, pipe.title)


def small(length: float, unit: str) -> str:
    """A cover or a clearance as a crew reads it.

    Parameters
    ----------
    length : float
        [m]
    unit : str
        The site's length unit.

    Returns
    -------
    str
        '13.2 in', or '335 mm' on a metric site.
    """
    if unit == "m":
        return f"{units.from_metres(length, 'mm') + 0.0:.0f} mm"
    return f"{units.from_metres(length, 'in') + 0.0:.1f} in"


def bedding_words(place: str, od: float, side_fill: str, unit: str) -> str:
    """What to put under and beside the pipe of a reach, for the schedule.

    Parameters
    ----------
    place : str
        lawn, pavement, outlet zone, wet ground or house backfill.
    od : float
        Outside diameter [m].
    side_fill : str
        'stone' where the pipe needs compacted stone beside it.
    unit : str
        The site's length unit.

    Returns
    -------
    str
        One phrase; the rules behind it are in `bedding.trench.FACTS`.
    """
    layer = small(fact("backfill-layer").value or 0.0, unit)
    if place == "wet ground":
        return (
            f"over-dig {small((fact('soft-over-dig').value or 0.0) * od, unit)} or more, tamped stone in {layer} layers"
        )
    if place == "house backfill":
        return f"dig clean; tamp what is loose under the pipe in {layer} layers"
    if side_fill == "stone":
        return f"dig clean; compacted stone beside the pipe to its top, {layer} layers"
    if place == "pavement":
        return f"dig clean; side fill and cover tamped in {layer} layers"
    return "dig clean to grade, firm under the whole pipe"


def coupling_words(below: Pipe, above: Pipe, unit: str) -> str:
    """The coupling where the kind of pipe changes.

    Parameters
    ----------
    below, above : Pipe
        Downstream and upstream.
    unit : str
        The site's length unit.

    Returns
    -------
    str
        Outside diameters to be joined, and the step of the bore that is left when inverts are level.
    """

    def fine(length: float) -> str:
        return f"{length / units.MILLIMETRE:.1f} mm" if unit == "m" else f"{length / units.INCH:.3f} in"

    return (
        f"adapter coupling {short(above)} to {short(below)}, outside {fine(above.od)} to {fine(below.od)}; "
        f"bores {fine(above.bore)} and {fine(below.bore)}, inverts level"
    )
