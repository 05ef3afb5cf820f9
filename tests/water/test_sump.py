from __future__ import annotations

from siteplan.units import FOOT, GALLON_PER_MINUTE

GPM = GALLON_PER_MINUTE
GOOD = {
    "rate": 42 * GPM,
    "line_capacity": 122 * GPM,
    "air_gap_rim": 99.85 * FOOT,
    "outlet_level": 97.35 * FOOT,
    "wall_ground": 99.60 * FOOT,
    "outlet_ground": 97.30 * FOOT,
    "outlet_distance": 60 * FOOT,
}
