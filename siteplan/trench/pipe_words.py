"""Reaches in words: short names of pipes, couplings, in the site's units."""

from __future__ import annotations

from siteplan import units
from siteplan.books.phrases import Language, phrase
from siteplan.values.laid_pipe import Pipe

_SHORT = frozenset({"pvc_sch40", "pvc_sdr35", "pvc_thin", "pe_corr_single", "pe_corr_dual"})


def short(pipe: Pipe, language: Language = "english") -> str:
    """A pipe's kind in a few words.

    Parameters
    ----------
    pipe : Pipe
        Any pipe.
    language : str
        Of the words: 'english' or 'spanish'.

    Returns
    -------
    str
        Its title where the book has no short name.
    """
    return phrase(f"pipe.{pipe.kind}", language) if pipe.kind in _SHORT else pipe.title


def sized(pipe: Pipe, unit: str, language: Language = "english") -> str:
    """A pipe's size by its name, with what a metric tape finds beside a name in inches.

    Parameters
    ----------
    pipe : Pipe
        Any pipe.
    unit : str
        The site's length unit.
    language : str
        Of the words: 'english' or 'spanish'.

    Returns
    -------
    str
        As `units.size_text`.
    """
    return units.size_text(pipe.nominal, pipe.od, unit, phrase("pipe.outside", language))


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

    if below.nominal != above.nominal:
        upper, lower = (units.size_text(one.nominal, one.od, unit) for one in (above, below))
        kind = f"flat-bottom reducer {upper} {short(above)} to {lower} {short(below)}"
    else:
        kind = f"adapter coupling {short(above)} to {short(below)}"
    return (
        f"{kind}, outside {fine(above.od)} to {fine(below.od)}; "
        f"bores {fine(above.bore)} and {fine(below.bore)}, inverts level"
    )
