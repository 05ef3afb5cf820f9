"""The image that [plat] names in; its file and how it lies out. It is drawn over and never read as data."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path

from siteplan.errors import InputError
from siteplan.survey.files import number_of, path_inside, shown_name
from siteplan.underlay.fit import Fitted, fitted_image
from siteplan.underlay.image_size import ImageSize, image_size

_FILE = "site.toml"


@dataclass(frozen=True, slots=True, kw_only=True)
class PlatImage:
    """An underlay. `fitted` None: no known points are given yet."""

    path: Path
    size: ImageSize
    fitted: Fitted | None


def plat_image(folder: Path, plat: Mapping[str, object] | None, faults: list[InputError]) -> PlatImage | None:
    """What [plat] image and image_points say.

    Parameters
    ----------
    folder : Path
        The site folder.
    plat : mapping or None
        The section.
    faults : list of InputError
        Faults are added to it.

    Returns
    -------
    PlatImage or None
        None where no image is named, or it cannot be used.
    """
    if plat is None or "image" not in plat:
        if plat is not None and "image_points" in plat:
            what = "has no image beside it"
            faults.append(InputError(f"{_FILE}, [plat] image_points", what, 'Add image = "plat.png".'))
        return None
    where = f"{_FILE}, [plat] image"
    try:
        path = path_inside(folder, plat["image"], where)
        size = image_size(path, path.relative_to(folder.resolve()).as_posix())
        points = _points(plat["image_points"]) if "image_points" in plat else ()
        fitted = None
        if points and size.kind == "pdf":
            what = "is a PDF, in which no pixels can be picked"
            faults.append(InputError(where, what, "Save its page as a PNG and name that."))
        elif points:
            picks, places = [(a, b) for a, b, _, _ in points], [(c, d) for _, _, c, d in points]
            fitted = fitted_image(picks, places, size.wide, size.high, f"{_FILE}, [plat] image_points")
    except InputError as fault:
        faults.append(fault)
        return None
    return PlatImage(path=path, size=size, fitted=fitted)


def _points(value: object) -> tuple[tuple[float, float, float, float], ...]:
    rows = value if isinstance(value, list) else []
    found = []
    for row in rows:
        numbers = [number_of(one) for one in row] if isinstance(row, list) else []
        if len(numbers) == 4 and all(one is not None for one in numbers):
            found.append(tuple(one for one in numbers if one is not None))
    if not rows or len(found) != len(rows):
        raise InputError(
            f"{_FILE}, [plat] image_points",
            f"is {shown_name(value)}, expected rows of four numbers",
            "Write image_points = [[column, row, easting, northing], ...], two rows or more.",
        )
    return tuple((a, b, c, d) for a, b, c, d in found)
