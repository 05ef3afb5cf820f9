"""A level book's CSV in; its rows as typed out. The text of a reading is kept until the rod is known.

Columns: point, BS, IFS, FS, station, remark, in any order under a header, in this order without one. HI and elevation
columns may be there: they are compared with the arithmetic, never used instead of it.
"""

from __future__ import annotations

import re
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path

from siteplan import units
from siteplan.books.practice import ROD_REACH, ROD_REACH_METRES
from siteplan.errors import InputError, raise_gathered
from siteplan.survey.typed_text import SEPARATORS, cells_of, numbered_lines, separator_of

ORDER = ("point", "BS", "IFS", "FS", "station", "remark")
RODS = ("tenths", "inches", "metres")
# codes that name a kind of ground, not one place: two rows of them are two points
COMMON_CODES = {
    "",
    "gr",
    "ground",
    "g",
    "grd",
    "spot",
    "shot",
    "tc",
    "fl",
    "ep",
    "eop",
    "toe",
    "top",
    "tob",
    "grade",
    "bank",
    "lawn",
    "gutter",
    "walk",
    "drive",
}

_NAMES = {
    "point": {"point", "pt", "points", "name", "id", "no", "number", "station point"},
    "BS": {"bs", "backsight", "back sight", "b.s.", "bs(+)", "+", "bs (+)"},
    "IFS": {
        "ifs",
        "is",
        "intermediate",
        "intermediate foresight",
        "intermediate sight",
        "i.f.s.",
        "side",
        "side shot",
        "ss",
    },
    "FS": {"fs", "foresight", "fore sight", "f.s.", "fs(-)", "-", "fs (-)", "fs/ifs", "ifs/fs", "fs or ifs"},
    "station": {"station", "sta", "chainage", "sta."},
    "remark": {"remark", "remarks", "note", "notes", "description", "desc", "comment"},
    "elevation": {"elevation", "elev", "el", "elev.", "level", "rl", "reduced level", "height"},
    "HI": {"hi", "h.i.", "height of instrument", "hpc"},
}
_PLAIN = re.compile(r"\d+(?:\.\d*)?|\.\d+")
_MARKED = re.compile(r".*(?:'|\"|\u2032|\u2033|[a-z]\s*$)", re.IGNORECASE)
_STATION = re.compile(r"(?:sta\.?\s*)?-?\d[\d.,+ ]*(?:m|ft|')?\s*[lr]?", re.IGNORECASE)
_TELLING = 6  # readings that all end in 0 or 5: read to the nearest five, by chance 1 in 15 000
_INCH_ROD = re.compile(r"(?P<feet>\d+)(?:[.\-](?P<inches>\d{1,2}))?(?:\s+(?P<num>\d+)/(?P<den>\d+))?")


@dataclass(frozen=True, slots=True, kw_only=True)
class BookEntry:
    """One row of the book, as typed; None where nothing stands."""

    row: int
    point: str
    backsight: str | None
    intermediate: str | None
    foresight: str | None
    station: str
    remark: str
    elevation: str | None
    high: str | None  # height of instrument, if the book has the column

    def typed(self) -> Iterator[tuple[str, str]]:
        """Column and text of every reading of the row."""
        for column, text in (("BS", self.backsight), ("IFS", self.intermediate), ("FS", self.foresight)):
            if text is not None:
                yield column, text


@dataclass(frozen=True, slots=True, kw_only=True)
class LevelBook:
    """A level book as typed."""

    file: str
    entries: tuple[BookEntry, ...]
    decimal_comma: bool
    notes: tuple[str, ...]

    def texts(self) -> tuple[str, ...]:
        """Every reading of the book, in order, with a point for the decimal mark."""
        return tuple(self.pointed(text) for entry in self.entries for _, text in entry.typed())

    def is_turning(self, index: int) -> bool:
        """Whether the next set-up stands on the point of this row: then its foresight carries the elevation on."""
        key = point_key(self.entries[index].point)
        if self.entries[index].backsight is not None:
            return True
        for entry in self.entries[index + 1 :]:
            if entry.backsight is not None:
                return point_key(entry.point) == key
        return False

    def pointed(self, text: str) -> str:
        """A typed number with a point for the decimal mark."""
        return text.replace(",", ".") if self.decimal_comma else text

    def rod_reading(self, text: str, rod: str, *, lone_one: int | None = None) -> float:
        """A reading in metres, as the named rod shows it.

        Parameters
        ----------
        text : str
            As typed.
        rod : str
            'tenths', 'inches' or 'metres'.
        lone_one : int, optional
            What 3.1 means on an inches rod, 1 or 10 inches; only for asking what would close.

        Returns
        -------
        float
            Reading [m].

        Raises
        ------
        ValueError
            If no such rod shows it; 'what; how to mend it'.
        """
        typed = self.pointed(text).strip()
        longest = ROD_REACH_METRES if rod == "metres" else ROD_REACH
        if typed.startswith(("-", "\u2212")):
            raise ValueError(
                f"is {text!r}, below 0; A rod is read upward from its foot: type it without the sign, under BS or FS"
            )
        if _MARKED.fullmatch(typed):
            try:
                value = units.read_length(typed, "m" if rod == "metres" else "ft")
            except ValueError:
                raise ValueError(f"is {text!r}, no rod reading; Type it as read, such as {_sample(rod)}") from None
        elif rod == "inches":
            value = self._inches(typed, text, lone_one)
        elif _INCH_ROD.fullmatch(typed) and not _PLAIN.fullmatch(typed):
            raise ValueError(
                f"is {text!r}, as an inches rod is written; Say --rod inches if every reading is so, or type "
                "it in decimals"
            )
        elif _PLAIN.fullmatch(typed):
            value = float(typed) * units.LENGTH["m" if rod == "metres" else "ft"]
        else:
            mend = (
                "Write the decimal with a point"
                if re.fullmatch(r"\d+,\d+", typed)
                else f"Type it as read, such as {_sample(rod)}"
            )
            raise ValueError(f"is {text!r}, no rod reading; {mend}")
        if value > longest:
            limit = f"{ROD_REACH_METRES.typed:g} m" if rod == "metres" else f"{ROD_REACH.typed:g} ft"
            raise ValueError(
                f"is {text!r}, longer than any rod ({limit}); Put the decimal point where it belongs, or type "
                "the unit beside it"
            )
        return value

    def _inches(self, typed: str, text: str, lone_one: int | None) -> float:
        found = _INCH_ROD.fullmatch(typed)
        if not found or (found["den"] and int(found["den"]) == 0):
            raise ValueError(f"is {text!r}, no reading of an inches rod; Type feet.inches such as 3.10, or 3'-10 1/8\"")
        tail = found["inches"] or "0"
        if int(tail) > 11:
            raise ValueError(f"is {text!r}: no inches rod shows {int(tail)} in; Correct it, or say --rod tenths")
        inches = float(tail)
        if tail == "1":
            if lone_one is not None:
                inches = float(lone_one)
            elif not self._single_digit_inches():
                raise ValueError(
                    f"is {text!r}: 1 in, or 10 in whose zero a spreadsheet dropped; Type {found['feet']}.01 "
                    f"or {found['feet']}.10"
                )
        if found["num"]:
            inches += int(found["num"]) / int(found["den"])
        return (int(found["feet"]) + inches / 12) * units.FOOT

    def lone_ones(self) -> tuple[str, ...]:
        """Readings that end in .1: on an inches rod 1 in, or 10 in whose zero a spreadsheet dropped.

        None where a .10 shows that zeros stand.
        """
        texts = self.texts()
        if any(re.fullmatch(r"\d+\.10(?:\s.*)?", text) for text in texts):
            return ()
        return tuple(text for text in texts if re.fullmatch(r"\d+\.1", text))

    def resolution(self, rod: str) -> float:
        """Finest step that the readings show [m]: a tenth, a hundredth, an inch, an eighth of one."""
        texts = [self.pointed(text).strip() for entry in self.entries for _, text in entry.typed()]
        one = units.LENGTH["m" if rod == "metres" else "ft"]
        parts = [int(den) for text in texts for den in re.findall(r"/\s*(\d+)", text) if int(den)]
        marked = [text for text in texts if _MARKED.fullmatch(text)]
        if rod == "inches" or (marked and len(marked) == len(texts)):
            decimals = max((len(tail) for text in marked for tail in re.findall(r"\.(\d+)", text)), default=0)
            return min(units.INCH / max(parts, default=1), units.INCH * 10.0**-decimals)
        plain = [text for text in texts if _PLAIN.fullmatch(text)]
        decimals = max((len(text.partition(".")[2]) for text in plain), default=0)
        last = {int((text.partition(".")[2] + "0" * decimals)[:decimals] or 0) % 10 for text in plain}
        by_fives = decimals and len(plain) >= _TELLING and last == {0, 5}
        step = one * 10.0**-decimals * (5 if by_fives else 1)
        return min([step, *(units.INCH / den for den in parts)])

    def _single_digit_inches(self) -> bool:
        """Whether the book writes 4 inches as .4: then .1 is one inch. A book with .04 writes one inch as .01."""
        tails = [text.partition(".")[2].split(" ")[0] for text in self.texts()]
        return any(len(tail) == 1 and tail in "23456789" for tail in tails) and not any(
            len(tail) == 2 and tail[0] == "0" and tail != "00" for tail in tails
        )


def _sample(rod: str) -> str:
    return {"metres": "1.234", "inches": "3.10"}.get(rod, "5.34")


def point_key(name: str) -> str:
    """Name by which two rows are the same point: BM-1, bm 1 and BM-1 (close) are one.

    Parameters
    ----------
    name : str
        As typed.

    Returns
    -------
    str
        For comparing alone.
    """
    plain = re.sub(r"\(.*?\)", " ", name).casefold().strip()
    plain = re.sub(r"[\s,;:-]+(?:close|closing|check|again|back|end)$", "", plain)
    return re.sub(r"(?<=[a-z])[\s_\-#.]+(?=\d)", "", " ".join(plain.split()))


def place_key(entry: BookEntry) -> tuple[str, str] | None:
    """Identity of a shot's place, for comparing a second run.

    Parameters
    ----------
    entry : Entry
        A row of the book.

    Returns
    -------
    tuple of str, or None
        Point and station; None for a bare ground code without a station.
    """
    key = point_key(entry.point)
    if key in COMMON_CODES and not entry.station:
        return None
    return key, entry.station.casefold().replace(" ", "")


def elevation_in_text(text: str, backsight: str | None = None, *, anything: bool = False) -> str | None:
    """An elevation that a remark states: 'nail in step EL 100.00', '= 100.00'; with `anything` a lone number too.

    Parameters
    ----------
    text : str
        The remark.
    backsight : str, optional
        The row's backsight, which the remark may repeat ('100.00 + 4.12').
    anything : bool
        Take the only decimal number of the remark when no word marks it.

    Returns
    -------
    str or None
        As typed: a number, or what stands where one should.
    """
    marked = re.search(r"(?:\b(?:el|elev|elevation|rl)\b\.?\s*[:=]?|=)\s*([+-]?\d[^\s,;)]*)", text, re.IGNORECASE)
    if marked:
        return marked[1]
    if not anything:
        return None
    numbers = [
        number for number in re.findall(r"(?<![\w.])[+-]?\d+\.\d+(?![\w.])", text) if number.lstrip("+") != backsight
    ]
    return numbers[0] if len(numbers) == 1 else None


def read_level_book(path: Path, *, shown: str | None = None) -> LevelBook:
    """Read a level book.

    Parameters
    ----------
    path : Path
        CSV, semicolon- or tab-separated text.
    shown : str, optional
        Its name in messages; the file's own when absent.

    Returns
    -------
    LevelBook
        Rows as typed.

    Raises
    ------
    InputError, InputErrors
        Row, column and mending for each row that cannot be a row of a level book.
    """
    shown = shown or path.name
    if not path.exists():
        raise InputError(shown, "no such file of level notes", "Give a CSV with a row for each shot: point,BS,IFS,FS.")
    lines = numbered_lines(path, shown)
    separator = separator_of(lines, 4)
    if separator is None or separator == " ":
        raise InputError(
            shown,
            "has no columns",
            (
                f"Separate point, BS, IFS, FS, station, remark with {SEPARATORS[',']}, {SEPARATORS[';']} or "
                f"{SEPARATORS[chr(9)]}."
            ),
        )
    rows = [(number, cells_of(line, separator)) for number, line in lines]
    columns, notes, below = _columns(rows, shown)
    headless = below is rows
    rows = [(number, _remark_last(cells, columns) if headless else cells) for number, cells in below]
    faults: list[InputError] = []
    entries: list[BookEntry] = []
    for number, cells in rows:
        try:
            entry = _entry(number, cells, columns, shown)
        except InputError as fault:
            faults.append(fault)
            continue
        if entry is not None:
            entries.append(entry)
    raise_gathered(faults)
    if not entries:
        raise InputError(shown, "has a header and no readings", "Give one row for each shot.")
    if entries[0].backsight is None:
        raise InputError(
            f"{shown}, row {entries[0].row}, BS",
            f"is blank: the book starts on {entries[0].point} without a backsight",
            "Begin with the BS on the benchmark.",
        )
    comma = separator != "," and any(re.fullmatch(r"\d*,\d+", text) for entry in entries for _, text in entry.typed())
    if comma:
        notes = (*notes, "decimal commas read as points")
    return LevelBook(file=shown, entries=tuple(entries), decimal_comma=comma, notes=notes)


Rows = list[tuple[int, list[str]]]


def _columns(rows: Rows, shown: str) -> tuple[dict[str, int], tuple[str, ...], Rows]:
    """Column of each name, from the header or the contract's order; the rows below it."""
    number, head = rows[0]
    words = [" ".join(cell.strip("\ufeff# ").casefold().split()) for cell in head]
    named: dict[str, int] = {}
    unknown = []
    for index, word in enumerate(words):
        name = next((name for name, known in _NAMES.items() if word in known), None)
        if name is None:
            if word:
                unknown.append(head[index])
        elif name in named:
            raise InputError(
                f"{shown}, row {number}",
                f"names the column {name} twice ({head[named[name]]}, {head[index]})",
                "Keep one of the two.",
            )
        else:
            named[name] = index
    if len(named) < 2:
        if any(re.search(r"\d", cell) for cell in head[1:4]) and len(head) >= 4:
            return (
                {name: index for index, name in enumerate(ORDER)},
                ("no header: columns taken as point, BS, IFS, FS, station, remark",),
                rows,
            )
        raise InputError(
            f"{shown}, row {number}",
            f"is neither a header nor a row of readings ({', '.join(head)[:60]})",
            "Name the columns point, BS, IFS, FS, station, remark.",
        )
    if unknown:
        raise InputError(
            f"{shown}, row {number}",
            f"has the column {unknown[0]!r}, unknown in a level book",
            "Name the columns point, BS, IFS, FS, station, remark (HI and elevation may be there).",
        )
    missing = [name for name in ("point", "BS", "FS") if name not in named]
    if missing:
        raise InputError(
            f"{shown}, row {number}",
            f"has no column {missing[0]}",
            "Name the columns point, BS, IFS, FS, station, remark.",
        )
    return named, (), rows[1:]


def _remark_last(cells: list[str], columns: dict[str, int]) -> list[str]:
    """A row without a header whose words stand where a station would: they are its remark."""
    at, last = columns["station"], columns["remark"]
    text = cells[at] if at < len(cells) else ""
    if not text or _STATION.fullmatch(text):
        return cells
    return [*cells[:at], "", ", ".join(part for part in (text, *cells[last:]) if part)]


def _entry(number: int, cells: list[str], columns: dict[str, int], shown: str) -> BookEntry | None:
    width = max(columns.values()) + 1
    where = f"{shown}, row {number}"
    if len(cells) > width and any(cells[width:]):
        if columns.get("remark") != width - 1:
            raise InputError(
                where,
                f"has {len(cells)} cells under {width} columns",
                "Quote the remark that holds the separator, or put the remark last.",
            )
        cells = [*cells[: width - 1], ", ".join(cell for cell in cells[width - 1 :] if cell)]

    def cell(name: str) -> str:
        index = columns.get(name)
        return cells[index] if index is not None and index < len(cells) else ""

    point, station = cell("point"), cell("station")
    backsight, side, fore = (cell(name) or None for name in ("BS", "IFS", "FS"))
    if backsight is None and side is None and fore is None:
        if not point and not station:
            return None  # a remark on a line of its own
        raise InputError(
            where, f"{point or station} has no reading", "Give a BS, an IFS or an FS, or take the row out."
        )
    if side is not None and (backsight is not None or fore is not None):
        other = "BS" if backsight is not None else "FS"
        raise InputError(
            f"{where}, IFS",
            f"{point or 'the row'} has an IFS and a {other}",
            "A side shot stands alone; give the other reading a row of its own.",
        )
    if not point and not station:
        raise InputError(f"{where}, point", "has a reading and no point", "Name the point that the rod stood on.")
    return BookEntry(
        row=number,
        point=point or station,
        backsight=backsight,
        intermediate=side,
        foresight=fore,
        station=station,
        remark=cell("remark"),
        elevation=cell("elevation") or None,
        high=cell("HI") or None,
    )
