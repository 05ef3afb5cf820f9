"""A small subdivision: lots that drain, one that cannot, one whose survey is broken, a folder that is no site."""

from __future__ import annotations

import numpy as np
import rasterio


def subdivision(folder, even_ground, drained=2):
    """Lots one beside the other in name alone: each stands on coordinates of its own."""
    point = even_ground.point
    for number in range(drained):
        even_ground.site_folder(
            folder / f"lot-{number + 1}",
            [
                point("downspout", "Leader", even_ground.EAST, 8.0 + number, roof_area=40),
                point("daylight_outlet", "Low end", even_ground.WEST, 8.0 + number),
            ],
        )
        with_bank(folder / f"lot-{number + 1}" / "ground.tif")
    even_ground.site_folder(
        folder / "uphill",
        [point("downspout", "Leader", even_ground.WEST, 8.0, roof_area=40), point("curb_outlet", "Curb", 59.0, 8.0)],
    )
    even_ground.site_folder(folder / "torn", [point("downspout", "Leader", 20.0, 8.0, roof_area=40)])
    (folder / "torn" / "features.geojson").write_text("{", encoding="utf-8")
    (folder / "papers").mkdir()
    (folder / "papers" / "letter.txt").write_text("nothing of a site", encoding="utf-8")
    return folder


def with_bank(path):
    """The lot's ground, 0.7 m lower at its western end: a line can come out of the bank."""
    x = np.arange(-2.0, 63.0)
    with rasterio.open(path, "r+") as file:
        file.write(np.tile(100.0 + 0.02 * x - 0.7 * np.clip((9.0 - x) / 2, 0, 1), (29, 1)), 1)


def tree(folder):
    """Every file below a folder."""
    return {
        path.relative_to(folder).as_posix(): path.read_bytes() for path in sorted(folder.rglob("*")) if path.is_file()
    }
