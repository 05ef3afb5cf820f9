"""A site's [plat] in; the picture that lies underneath and where it lies on the paper, out. It is drawn over, never read as data."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Any

from siteplan.errors import InputError
from siteplan.survey.plat_image import PlatImage, plat_image

if TYPE_CHECKING:
    from siteplan.table.folder_state import FolderState

_MOST_BYTES = 60_000_000
PICTURE_TYPES = {"png": "image/png", "jpeg": "image/jpeg"}


def picture_told(state: FolderState) -> dict[str, Any] | None:
    """The picture as the page draws it.

    Parameters
    ----------
    state : FolderState
        The folder.

    Returns
    -------
    dict or None
        name, wide, high [pixels], points as written, corners on the paper (upper left, upper right, lower left; None until two
        points are known), residuals and spread in the paper's unit, fault; None where no picture is named.
    """
    plat = state.settings.get("plat")
    if not isinstance(plat, dict) or "image" not in plat:
        return None
    held, faults = _held(state)
    points = plat.get("image_points")
    told: dict[str, Any] = {
        "name": str(plat["image"])[:120],
        "points": points if isinstance(points, list) else [],
        "fault": "; ".join(str(one) for one in faults),
        "wide": 0, "high": 0, "corners": None, "residuals": [], "spread": 0.0, "checked": False,
    }  # fmt: skip
    if held is None:  # the picture alone, so that its points can be picked again
        held, _ = _held(state, alone=True)
    if held is None or held.size.kind not in PICTURE_TYPES:
        return told
    told |= {"wide": held.size.wide, "high": held.size.high}
    if held.fitted is not None:
        corners = ((0.0, 0.0), (float(held.size.wide), 0.0), (0.0, float(held.size.high)))
        told |= {
            "corners": [list(held.fitted.place(column, row)) for column, row in corners],
            "residuals": [list(one) for one in held.fitted.residuals],
            "spread": held.fitted.spread,
            "checked": held.fitted.checked,
        }
    return told


def picture_bytes(state: FolderState) -> tuple[bytes, str]:
    """The picture itself.

    Parameters
    ----------
    state : FolderState
        The folder.

    Returns
    -------
    tuple of bytes and str
        With its type.

    Raises
    ------
    InputError
        Where there is none that a page shows: only PNG and JPEG inside the folder are.
    """
    held, _ = _held(state, alone=True)
    if held is None or held.size.kind not in PICTURE_TYPES:
        raise InputError("[plat] image", "is no PNG or JPEG of the site folder", "Name one under [plat] image.")
    path: Path = held.path
    if path.stat().st_size > _MOST_BYTES:
        raise InputError("[plat] image", "is too large to be shown", "Save it again with fewer pixels.")
    return path.read_bytes(), PICTURE_TYPES[held.size.kind]


def _held(state: FolderState, *, alone: bool = False) -> tuple[PlatImage | None, list[InputError]]:
    plat = state.settings.get("plat")
    faults: list[InputError] = []
    if not isinstance(plat, dict) or "image" not in plat:
        return None, faults
    section = {"image": plat["image"]} if alone else plat
    return plat_image(state.folder, section, faults), faults
