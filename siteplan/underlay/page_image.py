"""A PDF's bytes in; the PNG of one page out, where the optional library is installed.

The page is drawn in a process of its own, with bounds on its memory and its time: a file that brings the library down,
or keeps it busy, ends that process and nothing else.
"""

from __future__ import annotations

import contextlib
import os
import struct
import subprocess
import sys
import zlib
from importlib.util import find_spec
from pathlib import Path

from siteplan.errors import InputError

_DOTS = 200 / 72  # pixels in a point: 200 dots an inch
_MOST_SIDE = 4000  # pixels
_LIBRARY = "pypdfium2"
_PATIENCE = 60  # s for one page
_MOST_MEMORY = 2**31  # bytes
_NO_PAGE = 3  # what the process ends with where there is no such page


def pages_can_be_read() -> bool:
    """Whether the optional library that reads PDF pages is installed.

    Returns
    -------
    bool
        See docs/dependencies.md.
    """
    return find_spec(_LIBRARY) is not None


def page_png(data: bytes, page: int, shown: str) -> bytes:
    """A page as an image: 200 dots an inch, at most 4,000 pixels a side.

    Parameters
    ----------
    data : bytes
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
    home = str(Path(__file__).parents[2])
    paths = [home, *filter(None, [os.environ.get("PYTHONPATH")])]
    bad = InputError(shown, "is no PDF that can be read", "Save it again, or save the page as a PNG.")
    try:
        done = subprocess.run(  # noqa: S603 -- our own module; the file goes in as bytes, never as an argument
            [sys.executable, "-m", "siteplan.underlay.page_image", str(page)],
            input=data,
            capture_output=True,
            timeout=_PATIENCE,
            check=False,
            env={**os.environ, "PYTHONPATH": os.pathsep.join(paths)},
        )
    except subprocess.TimeoutExpired as error:
        raise InputError(shown, f"is not drawn within {_PATIENCE} s", "Save the page as a PNG.") from error
    except OSError as error:
        raise bad from error
    if done.returncode == _NO_PAGE and done.stdout.isdigit():
        raise InputError(f"page {page}", f"is no page of {shown}, which has {int(done.stdout)}", "Give one of them.")
    if done.returncode or not done.stdout:
        raise bad
    return done.stdout


def _bounded() -> None:
    """Bounds of this process; what a system does not know is left."""
    with contextlib.suppress(ImportError, ValueError, OSError):
        import resource

        resource.setrlimit(resource.RLIMIT_CPU, (_PATIENCE, _PATIENCE))
        resource.setrlimit(resource.RLIMIT_CORE, (0, 0))
        resource.setrlimit(resource.RLIMIT_AS, (_MOST_MEMORY, _MOST_MEMORY))


def _drawn_page(data: bytes, page: int) -> tuple[int, bytes]:
    """How many pages there are, and that one as a PNG; nothing where there is none of that number."""
    import pypdfium2

    document = pypdfium2.PdfDocument(data)
    count = len(document)
    if not 1 <= page <= count:
        return count, b""
    sheet = document[page - 1]
    scale = min(_DOTS, _MOST_SIDE / max(*sheet.get_size(), 1.0))
    bitmap = sheet.render(scale=scale, rev_byteorder=True, may_draw_forms=False)
    wide, high, stride, depth = bitmap.width, bitmap.height, bitmap.stride, bitmap.n_channels
    held = bytes(bitmap.buffer)
    document.close()
    rows = b"".join(b"\x00" + held[k * stride : k * stride + wide * depth] for k in range(high))
    head = struct.pack(">IIBBBBB", wide, high, 8, {1: 0, 3: 2, 4: 6}[depth], 0, 0, 0)
    parts = ((b"IHDR", head), (b"IDAT", zlib.compress(rows, 9)), (b"IEND", b""))
    return count, b"\x89PNG\r\n\x1a\n" + b"".join(
        struct.pack(">I", len(part)) + kind + part + struct.pack(">I", zlib.crc32(kind + part)) for kind, part in parts
    )


if __name__ == "__main__":
    _bounded()
    _count, _png = _drawn_page(sys.stdin.buffer.read(), int(sys.argv[1]))
    sys.stdout.buffer.write(_png or str(_count).encode())
    sys.exit(0 if _png else _NO_PAGE)
