"""A site's [plat] in, or a picture that a page sends; what lies underneath and where it lies on the paper, out.

It is drawn over, never read as data.
"""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Any

from siteplan.errors import InputError
from siteplan.sheets.writing import write_file
from siteplan.survey.plat_image import PlatImage, plat_image
from siteplan.underlay.page_image import page_png
from siteplan.underlay.proven_image import proven_image

if TYPE_CHECKING:
    from siteplan.table.folder_state import FolderState

_MOST_BYTES = 60_000_000
_MOST_KEPT = 50  # pictures of one site
_SENT = "the picture"  # its name on the person's own disk is never asked for
_ENDINGS = {"png": "png", "jpeg": "jpg"}
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
        name, wide, high [pixels], points as written, corners on the paper (upper left, upper right, lower left; None
        until two points are known), residuals and spread in the paper's unit, fault; None where no picture is named.
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
        "wide": 0,
        "high": 0,
        "corners": None,
        "residuals": [],
        "spread": 0.0,
        "checked": False,
    }
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


def keep_picture(folder: Path, data: bytes, page: int) -> str:
    """Put a picture that a page sends into the site folder, beside those that lie there.

    Parameters
    ----------
    folder : Path
        The site folder.
    data : bytes
        A PNG, a JPEG or a PDF, as its bytes prove.
    page : int
        Of a PDF, from 1; it becomes a PNG.

    Returns
    -------
    str
        Its name: plat.png, plat-2.jpg; that of the same picture where it lies there already.

    Raises
    ------
    InputError
        If it is none, or the disk refuses: nothing is written then.
    """
    size = proven_image(data, _SENT)
    if size.kind == "pdf":
        data = page_png(data, page, _SENT)
        size = proven_image(data, _SENT)
    for number in range(1, _MOST_KEPT + 1):
        name = f"plat{'' if number == 1 else f'-{number}'}.{_ENDINGS[size.kind]}"
        path = folder / name
        if path.is_file() and path.stat().st_size == len(data) and path.read_bytes() == data:
            return name
        if not path.exists() and not path.is_symlink():
            write_file(path, data)
            return name
    raise InputError(_SENT, f"is more than the {_MOST_KEPT} that a site folder takes", "Delete those no longer used.")
