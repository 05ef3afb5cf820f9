"""Rows of words in; a table for a spreadsheet out, in which no cell is a formula."""

from __future__ import annotations

import csv
import io
from collections.abc import Iterable, Sequence

from siteplan.sheets.schedule import safe_cell


def lots_csv(head: Sequence[str], rows: Iterable[Sequence[str]]) -> bytes:
    """A table.

    Parameters
    ----------
    head : sequence of str
        Names of the columns, ours.
    rows : iterable of sequence of str
        Cells; text that a spreadsheet would take for a formula gets an apostrophe before it.

    Returns
    -------
    bytes
        CSV (RFC 4180) in UTF-8.
    """
    text = io.StringIO()
    writer = csv.writer(text)
    writer.writerow(head)
    for row in rows:
        writer.writerow([safe_cell(cell) for cell in row])
    written = text.getvalue()
    return written.encode("ascii") if written.isascii() else b"\xef\xbb\xbf" + written.encode("utf-8", "replace")
