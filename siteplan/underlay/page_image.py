"""A page of a PDF in; the PNG of it out, where the optional library is installed."""

from __future__ import annotations

import struct
import zlib
from importlib.util import find_spec
from pathlib import Path

from siteplan.errors import InputError

_DOTS = 200 / 72  # pixels in a point: 200 dots an inch
_MOST_SIDE = 4000  # pixels
_LIBRARY = "pypdfium2"


def pages_can_be_read() -> bool:
    """Whether the optional library that reads PDF pages is installed.

    Returns
    -------
    bool
        See docs/dependencies.md.
    """
    return find_spec(_LIBRARY) is not None


def page_png(path: Path, page: int, shown: str) -> bytes:
    """A page as an image: 200 dots an inch, at most 4,000 pixels a side.

    Parameters
    ----------
    path : Path
        A PDF.
    page : int
        From 1.
    shown : str
        Its name in errors.

    Returns
    -------
    bytes
        A PNG, the same bytes each time.

    Raises
    ------
    InputError
        If the library is not installed, the file cannot be read, or has no such page.
    """
    if not pages_can_be_read():
        raise InputError(
            shown,
            "is a PDF, which needs an optional part to be read",
            'Run pip install "siteplan[pdf]", or save the page as a PNG.',
        )
    import pypdfium2

    try:
        document = pypdfium2.PdfDocument(path)
        count = len(document)
        if 1 <= page <= count:
            sheet = document[page - 1]
            scale = min(_DOTS, _MOST_SIDE / max(*sheet.get_size(), 1.0))
            bitmap = sheet.render(scale=scale, rev_byteorder=True, may_draw_forms=False)
            wide, high, stride, depth = bitmap.width, bitmap.height, bitmap.stride, bitmap.n_channels
            held = bytes(bitmap.buffer)
        document.close()
    except (pypdfium2.PdfiumError, OSError, ValueError) as error:
        raise InputError(shown, "is no PDF that can be read", "Save it again, or save the page as a PNG.") from error
    if not 1 <= page <= count:
        raise InputError(f"--page {page}", f"is no page of {shown}, which has {count}", "Give one of them.")
    rows = b"".join(b"\x00" + held[k * stride : k * stride + wide * depth] for k in range(high))
    head = struct.pack(">IIBBBBB", wide, high, 8, {1: 0, 3: 2, 4: 6}[depth], 0, 0, 0)
    parts = ((b"IHDR", head), (b"IDAT", zlib.compress(rows, 9)), (b"IEND", b""))
    return b"\x89PNG\r\n\x1a\n" + b"".join(
        struct.pack(">I", len(part)) + kind + part + struct.pack(">I", zlib.crc32(kind + part)) for kind, part in parts
    )
