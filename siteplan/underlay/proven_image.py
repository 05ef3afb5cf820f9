"""The bytes of a picture in; its kind and size out, proven by all of them, or one refusal.

No part of it is drawn or believed.
"""

from __future__ import annotations

import struct
import zlib

from siteplan.errors import InputError
from siteplan.underlay.image_size import PNG_SIGN, ImageSize, size_in

MOST_PICTURE_BYTES = 40_000_000
_MOST_AREA = 80_000_000  # pixels: what a browser holds without trouble
_SAMPLES = {0: 1, 2: 3, 3: 1, 4: 2, 6: 4}  # figures in a pixel, by the kind of colour: PNG section 11.2.1 (memory)
_DEPTHS = {0: {1, 2, 4, 8, 16}, 2: {8, 16}, 3: {1, 2, 4, 8}, 4: {8, 16}, 6: {8, 16}}
# first column and row, and steps, of the seven passes of an interlaced PNG: section 8.2 (memory)
_PASSES = ((0, 0, 8, 8), (4, 0, 8, 8), (0, 4, 4, 8), (2, 0, 4, 4), (0, 2, 2, 4), (1, 0, 2, 2), (0, 1, 1, 2))
_STEP = 1 << 20  # bytes unpacked at once


def proven_image(data: bytes, shown: str) -> ImageSize:
    """What the bytes of a picture are.

    Parameters
    ----------
    data : bytes
        All of the file.
    shown : str
        Its name in errors.

    Returns
    -------
    ImageSize
        A PNG whose parts bear out their checksums and unpack to just the pixels that its head tells, a JPEG whose
        segments lead from its beginning to its end, or a PDF by its first bytes.

    Raises
    ------
    InputError
        For anything else, and for more than 40 million bytes or 80 million pixels.
    """
    if len(data) > MOST_PICTURE_BYTES:
        raise InputError(shown, f"has more than {MOST_PICTURE_BYTES / 1e6:.0f} MB", "Save it with fewer pixels.")
    size = size_in(data, shown)
    if size.wide * size.high > _MOST_AREA:
        what = f"has {size.wide} x {size.high} pixels, more than {_MOST_AREA / 1e6:.0f} million"
        raise InputError(shown, what, "Save it with fewer pixels.")
    try:
        good = _whole_png(data) if size.kind == "png" else size.kind == "pdf" or _whole_jpeg(data)
    except (struct.error, zlib.error, IndexError, KeyError):
        good = False
    if not good:
        raise InputError(shown, f"is a {size.kind.upper()} that is cut short or damaged", "Save it again.")
    return size


def _whole_png(data: bytes) -> bool:
    at, names, wanted = len(PNG_SIGN), [], 0
    unpack, unpacked = zlib.decompressobj(), 0
    while at < len(data):
        (length,) = struct.unpack_from(">I", data, at)
        kind, body = data[at + 4 : at + 8], data[at + 8 : at + 8 + length]
        (told,) = struct.unpack_from(">I", data, at + 8 + length)
        if len(body) != length or zlib.crc32(body, zlib.crc32(kind)) != told:
            return False
        if kind == b"IHDR":
            wanted = _unpacked_size(body)
        elif kind == b"IDAT":
            rest: bytes = body
            while rest and unpacked <= wanted:
                unpacked += len(unpack.decompress(rest, _STEP))
                rest = unpack.unconsumed_tail
        names.append(kind)
        at += 12 + length
    unpacked += len(unpack.flush()) if unpacked <= wanted else 0
    parts = [name for name in names if name in {b"IHDR", b"IDAT", b"IEND"}]
    in_order = names[0] == b"IHDR" == parts[0] and names[-1] == b"IEND" and parts.count(b"IHDR") == 1
    return in_order and parts.count(b"IEND") == 1 and unpack.eof and unpacked == wanted > 0


def _unpacked_size(head: bytes) -> int:
    """Bytes of all rows, each with the word before it that says how it was filtered."""
    wide, high, depth, colour, packing, filtering, laced = struct.unpack(">IIBBBBB", head)
    if depth not in _DEPTHS[colour] or packing or filtering or laced not in {0, 1}:
        return 0
    bits, total = _SAMPLES[colour] * depth, 0
    for column, row, across, down in _PASSES if laced else ((0, 0, 1, 1),):
        columns, rows = -(-(wide - column) // across), -(-(high - row) // down)
        total += rows * (1 + -(-columns * bits // 8)) if columns > 0 and rows > 0 else 0
    return total


def _whole_jpeg(data: bytes) -> bool:
    """Segments one after the other, a scan in between, up to the mark of the end (ITU-T T.81, annex B; memory)."""
    at, scans = 2, 0
    while True:
        if data[at] != 0xFF:
            return False
        mark = data[at + 1]
        if mark == 0xFF:  # filling before a mark
            at += 1
        elif mark == 0xD9:
            return scans > 0
        elif mark == 0x01 or 0xD0 <= mark <= 0xD7:
            at += 2
        else:
            (length,) = struct.unpack_from(">H", data, at + 2)
            if length < 2 or mark in {0x00, 0xD8}:
                return False
            at += 2 + length
            if mark == 0xDA:
                scans, at = scans + 1, _behind_scan(data, at)


def _behind_scan(data: bytes, at: int) -> int:
    """The next mark that is no part of the scan."""
    while True:
        at = data.find(b"\xff", at)
        if at < 0 or at + 1 >= len(data):
            return len(data)
        if data[at + 1] != 0 and not 0xD0 <= data[at + 1] <= 0xD7:
            return at
        at += 2
