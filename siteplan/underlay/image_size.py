"""An image file in; its kind and its size in pixels out, by the head of the file alone."""

from __future__ import annotations

import struct
from pathlib import Path
from typing import NamedTuple

from siteplan.errors import InputError

PNG_SIGN = b"\x89PNG\r\n\x1a\n"
_MOST_PIXELS = 30_000  # along one side
_HEAD = 4 * 2**20  # bytes: what cameras put before a JPEG's size
_FRAMES = frozenset(range(0xC0, 0xD0)) - {0xC4, 0xC8, 0xCC}  # start of frame: ITU-T T.81, table B.1 (memory)


class ImageSize(NamedTuple):
    """Kind ('png', 'jpeg' or 'pdf') and size [pixels]; 0 by 0 for a PDF, whose page is made an image first."""

    kind: str
    wide: int
    high: int


def image_size(path: Path, shown: str) -> ImageSize:
    """What an underlay is.

    Parameters
    ----------
    path : Path
        A file; its first bytes say what it is, not its name.
    shown : str
        Its name in errors.

    Returns
    -------
    ImageSize
        See there.

    Raises
    ------
    InputError
        As `size_in`.
    """
    with path.open("rb") as stream:
        return size_in(stream.read(_HEAD), shown)


def size_in(head: bytes, shown: str) -> ImageSize:
    """What the first bytes of an underlay tell.

    Parameters
    ----------
    head : bytes
        The first four million, or all.
    shown : str
        Its name in errors.

    Returns
    -------
    ImageSize
        See there.

    Raises
    ------
    InputError
        If it is neither PNG, JPEG nor PDF, is cut short, or is larger than 30,000 pixels a side.

    References
    ----------
    PNG: W3C recommendation, third edition, sections 5.2 and 11.2.1 (signature, IHDR); JPEG: ITU-T T.81, annex B (both
    from memory).
    """
    if head.startswith(b"%PDF-"):
        return ImageSize("pdf", 0, 0)
    size = None
    kind = "png" if head.startswith(PNG_SIGN) else "jpeg" if head.startswith(b"\xff\xd8\xff") else ""
    if kind == "png" and len(head) >= 24 and head[12:16] == b"IHDR":
        size = struct.unpack(">II", head[16:24])
    elif kind == "jpeg":
        size = _jpeg(head)
    if not kind:
        raise InputError(shown, "is neither a PNG nor a JPEG image nor a PDF", "Save the plat or photo as PNG or JPEG.")
    if size is None or min(size) < 1:
        raise InputError(shown, f"is a {kind.upper()} that is cut short: its size is not in it", "Save it again.")
    if max(size) > _MOST_PIXELS:
        raise InputError(
            shown, f"is {size[0]} x {size[1]} pixels", f"Make it smaller, at most {_MOST_PIXELS} pixels a side."
        )
    return ImageSize(kind, *size)


def _jpeg(head: bytes) -> tuple[int, int] | None:
    at = 2
    while at + 9 <= len(head):
        if head[at] != 0xFF:
            return None
        mark = head[at + 1]
        if mark == 0xFF:
            at += 1
        elif mark in _FRAMES:
            high, wide = struct.unpack(">HH", head[at + 5 : at + 9])
            return wide, high
        elif mark in {0x01, *range(0xD0, 0xD9)}:
            at += 2
        else:
            at += 2 + struct.unpack(">H", head[at + 2 : at + 4])[0]
    return None
