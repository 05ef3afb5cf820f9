"""A sleeve round a line where wheels cross: the carrier in; size, clearance, length and cost in cover out."""

from __future__ import annotations

from collections.abc import Sequence
from typing import NamedTuple

from siteplan import units
from siteplan.books.stock import PipeStock

PAST_EDGE = 1 * units.FOOT  # each side of the pavement; a city driveway rule (read) and trade practice


class Sleeve(NamedTuple):
    """One sleeve that fits."""

    stock: PipeStock
    clearance: float  # inside diameter less outside of the carrier [m]
    play: float  # inside diameter less the carrier's bell or coupling [m]
    above: float  # top of sleeve over top of carrier, carrier lying on its bottom [m]
    below: float  # sleeve's own wall below the carrier [m]
    length: float  # [m]


def sleeve_for(carrier: PipeStock, crossing: float, among: Sequence[PipeStock]) -> Sleeve | None:
    """The smallest sleeve that the carrier passes through with its couplings.

    Parameters
    ----------
    carrier : PipeStock
        The line's pipe.
    crossing : float
        Length of line under the pavement, along the line [m].
    among : sequence of PipeStock
        Pipes a sleeve may be cut from.

    Returns
    -------
    Sleeve or None
        The one of least bore, then least outside diameter; None when no bell passes.

    References
    ----------
    Inside diameter over bell. Common practice, no source: 6 in over 4 in where trucks cross, a foot past each edge.
    The sleeve carries the wheel, so it is the sleeve that is checked for load; it needs the same bedding.
    """
    fits = [pipe for pipe in among if pipe.pipe.bore > carrier.bell]
    if not fits:
        return None
    return sleeve_fit(carrier, min(fits, key=lambda pipe: (pipe.pipe.bore, pipe.pipe.od, pipe.pipe.kind)), crossing)


def sleeve_fit(carrier: PipeStock, sleeve: PipeStock, crossing: float = 0.0) -> Sleeve:
    """How a carrier lies in a given sleeve.

    Parameters
    ----------
    carrier : PipeStock
        The line's pipe.
    sleeve : PipeStock
        The pipe round it.
    crossing : float
        Length of line under the pavement [m].

    Returns
    -------
    Sleeve
        Clearances may be below 0: then it does not fit.

    References
    ----------
    Diameters of the book of pipes.
    """
    wall = sleeve.pipe.below
    return Sleeve(
        stock=sleeve,
        clearance=sleeve.pipe.bore - carrier.pipe.od,
        play=sleeve.pipe.bore - carrier.bell,
        above=sleeve.pipe.od - wall - carrier.pipe.od,
        below=wall,
        length=crossing + 2 * PAST_EDGE,
    )
