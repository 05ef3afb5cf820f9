"""A sleeve round a line where wheels cross: the carrier in; whether it fits, and what it costs in cover, out."""

from __future__ import annotations

from typing import NamedTuple

from siteplan.books.stock import PipeStock


class Sleeve(NamedTuple):
    """One pipe round another."""

    stock: PipeStock
    play: float  # inside diameter less the carrier's bell or coupling [m]
    above: float  # top of sleeve over top of carrier, carrier lying on its bottom [m]


def sleeve_fit(carrier: PipeStock, sleeve: PipeStock) -> Sleeve:
    """How a carrier lies in a given sleeve.

    Parameters
    ----------
    carrier : PipeStock
        The line's pipe.
    sleeve : PipeStock
        The pipe round it.

    Returns
    -------
    Sleeve
        The play may be below 0: then it does not fit.

    References
    ----------
    Diameters of the book of pipes.
    """
    return Sleeve(
        stock=sleeve,
        play=sleeve.pipe.bore - carrier.bell,
        above=sleeve.pipe.od - sleeve.pipe.below - carrier.pipe.od,
    )
