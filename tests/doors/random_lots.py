"""A seed in; an invented lot with a house, drive, wet ground, sources and outlets, in one of three units.

Out as a site folder.

No lot is made to be easy or hard: what is asked of each is that its plan is whole and does not contradict itself.
"""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from typing import Any

import numpy as np
from sites_builder import FEET, build, feature

UNITS = (("m", "m", "local"), ("ft", "ft", "local"), ("us-ft", "us-ft", "local"), ("us-ft", "us-ft", "EPSG:2263"))


def lot(folder: Path, seed: int, changes: dict[str, str | None] | None = None, *, crowded: bool = False) -> Path:
    """Write the lot of a seed; `changes` are laid over its site.toml.

    A crowded one has more leaders, and often a second hole.
    """
    rng = np.random.default_rng(seed)
    unit, height_unit, crs = UNITS[seed % len(UNITS)]
    k = FEET[unit]
    wide, deep = float(rng.uniform(26, 42)), float(rng.uniform(20, 30))
    west, south = float(rng.uniform(7, 10)), float(rng.uniform(5, 8))
    east, north = west + float(rng.uniform(9, 12)), south + float(rng.uniform(7, 10))
    corner = float(rng.uniform(0.3, 0.9))
    drawn = [
        feature("lot", [(0, 0), (wide, 0), (wide, deep), (0, deep)], "Lot"),
        feature("building", [(west, south), (east, south), (east, north), (west, north)], "House"),
        feature("curb", [(wide + 1, -5), (wide + 1, deep + 5)], "Curb"),
        feature("curb_outlet", (wide + 0.8, float(rng.uniform(2, deep - 2))), "CURB-1"),
        feature("downspout", (east + corner, south + corner), "DS-1", roof_area=float(rng.uniform(40, 130)) / k**2),
        feature("downspout", (west - corner, north - corner), "DS-2", roof_area=float(rng.uniform(40, 90)) / k**2),
    ]
    if rng.random() < 0.6:
        drawn.append(
            feature("sump", ((west + east) / 2, north + corner), "SUMP-1", pump_rate=1.6 if unit == "m" else 25.0)
        )
    if rng.random() < 0.6:
        drawn.append(feature("daylight_outlet", (wide - 2, float(rng.uniform(1.5, 4))), "DAY-1"))
    if rng.random() < 0.7:
        y = float(rng.uniform(south, north - 3))
        drive = [(east, y), (wide, y), (wide, y + 3), (east, y + 3)]
        drawn.append(
            feature(
                "driveway",
                drive,
                "Drive",
                **({"vehicle": str(rng.choice(["car", "truck"]))} if rng.random() < 0.7 else {}),
            )
        )
    if rng.random() < 0.7:
        x, y = float(rng.uniform(wide - 12, wide - 7)), float(rng.uniform(2, deep - 8))
        drawn.append(
            feature("wet_area", [(x, y), (x + float(rng.uniform(2, 5)), y), (x + 4, y + 5), (x, y + 5)], "Wet")
        )
    if rng.random() < 0.5:
        drawn.append(
            feature("sprinkler", (float(rng.uniform(wide - 10, wide - 2)), float(rng.uniform(2, deep - 2))), "Spray")
        )
    if crowded:
        places = [
            (east + corner, north - corner),
            (west - corner, south + corner),
            ((west + east) / 2, south - corner),
            (east + corner, (south + north) / 2),
            (west - corner, (south + north) / 2),
        ]
        for n, place in enumerate(places[: int(rng.integers(2, 6))], start=3):
            drawn.append(feature("downspout", place, f"DS-{n}", roof_area=float(rng.uniform(5, 12)) / k**2))
        if rng.random() < 0.5:
            drawn.append(feature("curb_outlet", (wide + 0.8, float(rng.uniform(2, deep - 2))), "CURB-2"))
    told: dict[str, str | None] = {
        "ground.accuracy": f"{float(rng.choice([0.01, 0.02, 0.03])) / FEET[height_unit]:.6g}",
        "trench.house_backfill": str(rng.choice(['"settled"', '"fresh"'])),
    }
    return build(
        folder,
        crs=crs,
        length_unit=unit,
        elevation_unit=height_unit,
        features=drawn,
        heights=_ground(rng, wide, height_unit),
        changes={**told, **(changes or {})},
        **({"bounds": tuple(v / k for v in (-12.0, -10.0, wide + 12, deep + 12))} if crs == "local" else {}),
        shape=(int((deep + 22) / 0.4), int((wide + 24) / 0.4)) if crs == "local" else (130, 150),
    )


def _ground(rng: np.random.Generator, wide: float, unit: str) -> Callable[[Any, Any], Any]:
    """A plane that falls to a bank above the street, with a swell or a hollow or two."""
    fall, aslant = float(rng.uniform(0.008, 0.05)), float(rng.uniform(-0.015, 0.015))
    bank, toe = float(rng.uniform(0.3, 1.1)), wide - float(rng.uniform(1.0, 3.0))
    bumps = [
        (float(rng.uniform(0, 40)), float(rng.uniform(0, 30)), float(rng.uniform(3, 9)), float(rng.uniform(-0.35, 0.3)))
        for _ in range(int(rng.integers(1, 4)))
    ]

    def heights(x: Any, y: Any) -> Any:
        z = 30.0 - fall * np.asarray(x, float) + aslant * np.asarray(y, float)
        z = z - bank / 2 * (1 + np.tanh((np.asarray(x, float) - toe) / 1.2))
        for east, north, reach, up in bumps:
            z = z + up * np.exp(-((x - east) ** 2 + (y - north) ** 2) / reach**2)
        return z / FEET[unit]

    return heights
