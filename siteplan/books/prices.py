"""What a metre of trench costs, in relative units: 1 is a metre of lawn trench before any digging depth.

Relative, so that routes can be ranked; not money. Common practice, no source: the ranking of the surcharges
(drive above walk above wet ground above roots) is the trade's, the figures are ours.
"""

from __future__ import annotations

from typing import NamedTuple


class Prices(NamedTuple):
    """Relative prices. Per metre of line unless the comment says otherwise."""

    trench: float = 1.0  # opening, bedding, pipe, closing
    digging: float = 1.2  # for each metre of depth to the trench bottom
    deep: float = 4.0  # more for each metre deeper than the ladder depth
    driveway: float = 10.0  # saw, break, restore
    paving: float = 8.0
    walk: float = 6.0
    wet: float = 3.0  # stone bed in a low spot
    roots: float = 5.0  # inside a tree's root circle
    loose_fill: float = 1.5  # in the loose backfill beside a foundation (rule foundation-backfill)
    wall_side: float = 1.5  # more in its inner half, where it is deep: as dear as wet ground
    retaining: float = 25.0  # nearer to a retaining wall than the rule asks, or up and down a steep face
    lot_line: float = 0.5  # within a metre of a lot line
    street: float = 2.0  # right of way: permit and restoration
    bend: float = 0.6  # each fitting
    odd_bend: float = 0.8  # more for an angle that no single fitting makes
    wye: float = 0.8
    grade_break: float = 0.5  # a new setting of the laser
    askew: float = 2.0  # each pavement edge crossed at less than 60 degrees


DEFAULT_PRICES = Prices()

# pipe alone, per metre of 4 in, of which a metre of lawn trench already holds one of SDR 35; ranking is the trade's,
# figures ours
PIPE_PRICES = {"pvc_sdr35": 0.25, "pvc_sch40": 0.45, "pvc_thin": 0.18, "pe_corr_single": 0.12, "pe_corr_dual": 0.28}
UNLISTED_PIPE = 0.45  # a kind that a site adds without a price
# power of its outside width with which a pipe's price by the metre grows: its weight, for walls of one class are as
# thick
# as the pipe is wide (arithmetic; that pipe is sold by weight is common practice, no source)
PIPE_SIZE = 2.0
COUPLING = 0.3  # each change of kind: the adapter and the time
