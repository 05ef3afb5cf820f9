"""A text file that people typed or exported in; numbered lines and cells out, every character as it was typed."""

from __future__ import annotations

import csv
from pathlib import Path

from siteplan.errors import InputError

MOST_BYTES = 64 * 2**20
_SAMPLE = 400  # lines that tell the separator
SEPARATORS = {",": "commas", ";": "semicolons", "\t": "tabs", " ": "blanks"}


def numbered_lines(path: Path, shown: str) -> tuple[tuple[int, str], ...]:
    """Lines that hold something, with their number in the file, whatever the encoding and the line ends.

    Parameters
    ----------
    path : Path
        The file.
    shown : str
        Its name in messages.

    Returns
    -------
    tuple of (int, str)
        Row number from 1, and the line without its end.

    Raises
    ------
    InputError
        If there is no such file, it is no text, too large or empty.
    """
    shown = shown or str(path)
    if path.is_dir():
        raise InputError(shown, "is a folder", "Name the file.")
    try:
        raw = path.read_bytes() if path.stat().st_size <= MOST_BYTES else None
    except OSError as error:
        raise InputError(shown, "cannot be read", "Check the name and the right to read it.") from error
    if raw is None:
        raise InputError(
            shown, f"is larger than {MOST_BYTES >> 20} MB", "Keep the rows of this lot and its surroundings."
        )
    if raw.startswith((b"\xff\xfe", b"\xfe\xff")):
        text = raw.decode("utf-16", errors="replace")
    else:
        try:
            text = raw.decode("utf-8-sig")
        except UnicodeDecodeError:
            text = raw.decode("cp1252", errors="replace")
    if "\x00" in text:
        raise InputError(
            shown, "is no text file", "Save the table as CSV text; a spreadsheet's own file cannot be read here."
        )
    ends = text.replace("\r\n", "\n").replace("\r", "\n").split("\n")
    lines = tuple(
        (number, line.replace("\u00a0", " ")) for number, line in enumerate(ends, 1) if line.strip(" \t,;\u00a0")
    )
    if not lines:
        raise InputError(shown, "is empty", "Give one row for each shot.")
    return lines


def separator_of(lines: tuple[tuple[int, str], ...], fewest: int) -> str | None:
    """The character that separates the cells: the one that gives most lines at least `fewest` cells.

    Parameters
    ----------
    lines : tuple of (int, str)
        From `numbered_lines`.
    fewest : int
        Cells that a row must have.

    Returns
    -------
    str or None
        Tab, semicolon, comma or blank; None when no separator does it. Tab and semicolon go first,
        since a comma may be a decimal mark and a blank may stand in any text.
    """
    sample = lines[:_SAMPLE]
    best, most = None, 0
    for mark in ("\t", ";", ",", " "):
        count = sum(len(cells_of(line, mark)) >= fewest for _, line in sample)
        if count > most:
            best, most = mark, count
    return best if most * 2 >= len(sample) else None


def cells_of(line: str, separator: str) -> list[str]:
    """Cells of one line, stripped; a quoted cell may hold the separator.

    Parameters
    ----------
    line : str
        One line of the file.
    separator : str
        As found by `separator_of`.

    Returns
    -------
    list of str
        As typed, without the blanks around.
    """
    if separator == " ":
        return line.split()
    if '"' not in line:
        return [cell.strip() for cell in line.split(separator)]
    return [cell.strip() for cell in next(csv.reader([line], delimiter=separator, skipinitialspace=True), [])]
