"""Small invented lots with every pipe kind and size on offer, every unit and frame.

For laws that must hold of any plan.
"""

from __future__ import annotations

import random

import numpy as np
from sites_builder import FEET, build, feature

from siteplan.books.pipes import catalogue, sizes

PIPES = sorted({pipe.kind for pipe in catalogue()} | {"pvc_metric"})
FRAMES = (
    ("local", "ft"),
    ("local", "us-ft"),
    ("local", "m"),
    ("EPSG:32618", "m"),
    ("EPSG:2263", "us-ft"),
    ("EPSG:6347", "m"),
)


def honest_lot(folder, number):
    """Lot `number`: another slope, other bumps, pipe, unit, accuracy, features and rules each time."""
    pick = random.Random(f"lot {number}")
    crs, unit = FRAMES[number % len(FRAMES)]
    metre = 1 / FEET[unit]
    kind = PIPES[number // len(FRAMES) % len(PIPES)]
    names = [pipe.nominal for pipe in sizes(kind)]
    size = names[number // (len(FRAMES) * len(PIPES)) % len(names)] if number % 3 else None
    slope, aside = pick.uniform(0.012, 0.05), pick.uniform(-0.01, 0.01)
    bank = pick.uniform(0.5, 1.1)
    bumps = [(pick.uniform(0, 40), pick.uniform(0, 30), pick.uniform(-0.25, 0.2), pick.uniform(2, 7)) for _ in range(4)]

    def heights(x, y):
        # a bank down to the street: outlets lie low enough to take a buried line
        z = 30 - slope * x + aside * y - bank * np.clip((np.asarray(x) - 33) / 5, 0, 1)
        for at_x, at_y, high, wide in bumps:
            z = z + high * np.exp(-((x - at_x) ** 2 + (y - at_y) ** 2) / wide**2)
        return z / FEET[unit]

    area = FEET[unit] ** 2
    named = pick.sample(["DS-1", "DS \u00e9", "Corner", "=1+1", "North gutter 2", "ds 3"], 3)
    drawn = [
        feature("lot", [(0, 0), (40, 0), (40, 30), (0, 30)], "Lot"),
        feature("building", [(10, 8), (22, 8), (22, 20), (10, 20)], "House"),
        feature("curb", [(41, -5), (41, 35)], "Curb"),
        feature("downspout", (22.3, 8.3), named[0], roof_area=round(pick.uniform(20, 110) / area, 2)),
        feature("downspout", (9.7, 19.7), named[1], roof_area=round(pick.uniform(20, 110) / area, 1)),
        feature("daylight_outlet", (38, 2), "Low corner"),
    ]
    if pick.random() < 0.6:
        drawn.append(
            feature("driveway", [(22, 9), (40, 9), (40, 12), (22, 12)], "Drive", vehicle=pick.choice(["car", "truck"]))
        )
    if pick.random() < 0.5:
        drawn.append(feature("sump", (16, 20.5), "Pit", pump_rate=2.0 if unit == "m" else 32.0))
    if pick.random() < 0.5:
        drawn.append(feature("curb_outlet", (40.8, pick.uniform(3, 20)), "Curb hole"))
    if pick.random() < 0.5:
        drawn.append(
            feature("utility", [(30, -5), (pick.uniform(24, 36), 35)], pick.choice(["Gas", "Water service", "Cable"]))
        )
    if pick.random() < 0.4:
        drawn.append(feature("walk", [(24, 2), (36, 2), (36, 3.2), (24, 3.2)], "Walk"))
    if pick.random() < 0.4:
        drawn.append(feature("wet_area", [(28, 4), (33, 4), (33, 8), (28, 8)], "Soggy"))
    if pick.random() < 0.4:
        drawn.append(feature("tree", (pick.uniform(25, 37), pick.uniform(14, 28)), "Oak"))
    changes = {
        "name": f'"Lot {number}"',
        "ground.accuracy": f"{round(pick.choice([0.012, 0.03, 0.05]) * metre, pick.choice([3, 4]))}",
        "water.pipe": f'"{kind}"',
        **({"water.smallest": f'"{size}"', "water.largest": f'"{size}"'} if size else {}),
    }
    if pick.random() < 0.3:
        changes["rules.min_cover_in" if unit != "m" else "rules.min_cover_mm"] = "6" if unit != "m" else "200"
    return build(
        folder,
        crs=crs,
        length_unit=unit,
        elevation_unit=unit,
        changes=changes,
        features=drawn,
        shape=(60, 70),
        heights=heights,
    )
