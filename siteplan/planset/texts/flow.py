"""Headings, sentences, tables and drawings in.

Pages of them out, broken where a page is full, each with a title and inside its frame.

Nothing is cut off and nothing shrinks: a cell grows with its words, a table goes on under its heads on the next page.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass

from siteplan.plotting.fonts import settable, text_width, wrapped
from siteplan.plotting.paper_sizes import Box, Paper
from siteplan.plotting.shapes import Lettering, Mark, Page, Pen, Spot, rectangle, straight

LAYER = "text"
# mm, 7 points: nothing a desk has to read is smaller (2.5 mm is a nominal size of ISO 3098-1, from memory, there of
# capitals; for type: common practice, no source)
LEAST_TYPE = 2.5
_LEADING = 1.32  # from line to line, of the type's size
_RISE = 0.76  # of the type's size, over the base line
_PAD, _TIGHT = 0.9, 0.35  # in a cell, and over and under the words of a tight one [mm]
_RULE = Pen(color="#777777", width=0.12)
_BAR = Pen(width=0.35)
_SHADE = "#ececec"
_COLUMN_GAP = 6.0  # [mm]


@dataclass(frozen=True, slots=True, kw_only=True)
class Prose:
    """A paragraph. `hang` is what stands before its first line; `keep`: stays with what follows."""

    text: str
    size: float = LEAST_TYPE
    bold: bool = False
    above: float = 1.0  # free over it [mm]
    hang: str = ""
    keep: bool = False


@dataclass(frozen=True, slots=True, kw_only=True)
class TextTable:
    """A table. `right`, `blank` and `strong` name columns: figures, left blank for a pen, bold; `tight`.

    Rows close together.
    """

    head: tuple[str, ...]
    rows: tuple[tuple[str, ...], ...]
    right: tuple[int, ...] = ()
    blank: tuple[int, ...] = ()
    strong: tuple[int, ...] = ()
    size: float = LEAST_TYPE
    least: float = 0.0  # height of a row [mm]
    blank_wide: float = 20.0  # of a blank column [mm]
    tight: bool = False


@dataclass(frozen=True, slots=True, kw_only=True)
class BlankLine:
    """Names side by side, each with a line to write on."""

    names: tuple[str, ...]
    high: float = 8.0


@dataclass(frozen=True, slots=True, kw_only=True)
class DrawnDetail:
    """A drawing of a fixed height, made from the box that it is given."""

    high: float
    draw: Callable[[Box], Sequence[Mark]]


Block = Prose | TextTable | BlankLine | DrawnDetail


def section_head(text: str) -> Prose:
    """A heading over what follows.

    Parameters
    ----------
    text : str
        Plain.

    Returns
    -------
    Prose
        Kept with the next block.
    """
    return Prose(text=text, size=3.4, bold=True, above=3.2, keep=True)


def listed_words(texts: Sequence[str], size: float = LEAST_TYPE) -> list[Block]:
    """Sentences with a mark before each.

    Parameters
    ----------
    texts : sequence of str
        Plain.
    size : float
        Of the type [mm].

    Returns
    -------
    list of Block
        One for each.
    """
    return [Prose(text=one, size=size, hang="\u2022", above=0.7) for one in texts]


@dataclass(slots=True)
class _Pen:
    """Where the next block goes."""

    paper: Paper
    columns: int
    done: list[list[Mark]]
    column: int
    y: float

    @property
    def box(self) -> Box:
        inside = self.paper.inside
        wide = (inside.wide - (self.columns - 1) * _COLUMN_GAP) / self.columns
        left = inside.left + self.column * (wide + _COLUMN_GAP)
        return Box(left=left, bottom=inside.bottom, right=left + wide, top=inside.top)

    @property
    def fresh(self) -> bool:
        return abs(self.y - self.box.top) < 1e-6

    def on(self) -> None:
        """To the next column, or the next page."""
        self.column += 1
        if self.column == self.columns:
            self.page()
        self.y = self.box.top

    def page(self) -> None:
        self.column = 0
        self.done.append([])
        self.y = self.box.top

    def put(self, *marks: Mark) -> None:
        self.done[-1].extend(marks)


def flowed(paper: Paper, title: str, blocks: Sequence[Block], columns: int = 1) -> list[Page]:
    """Blocks laid down pages.

    Parameters
    ----------
    paper : Paper
        To print on.
    title : str
        Of each page, in its title block.
    blocks : sequence of Block
        In reading order.
    columns : int
        Side by side.

    Returns
    -------
    list of Page
        None where there is no block.
    """
    if not blocks:
        return []
    at = _Pen(paper=paper, columns=columns, done=[[]], column=0, y=0.0)
    at.y = at.box.top
    for number, block in enumerate(blocks):
        kept = block.keep if isinstance(block, Prose) else False
        after = blocks[number + 1] if kept and number + 1 < len(blocks) else None
        need = _least(block, at.box.wide) + (0.0 if after is None else _least(after, at.box.wide))
        if at.y - need < at.box.bottom and not at.fresh:
            at.on()
        if isinstance(block, Prose):
            _words(at, block)
        elif isinstance(block, TextTable):
            _grid(at, block)
        elif isinstance(block, BlankLine):
            _field(at, block)
        else:
            box = Box(left=at.box.left, bottom=at.y - block.high, right=at.box.right, top=at.y)
            at.put(*block.draw(box))
            at.y -= block.high
    return [Page(paper=paper, title=title, shapes=tuple(marks)) for marks in at.done if marks]


def _least(block: Block, wide: float) -> float:
    """The height without which a block does not begin on a page."""
    if isinstance(block, Prose):
        lines = len(_lines(block, wide))
        return block.above + min(lines, 2 if lines != 3 else 3) * block.size * _LEADING
    if isinstance(block, TextTable):
        widths = _widths(block, wide)
        first = _cells(block, block.rows[0], widths, bold=False)[1] if block.rows else 0.0
        return _cells(block, block.head, widths, bold=True)[1] + first + 1.0
    return block.high


def _indent(block: Prose) -> float:
    return text_width(f"{block.hang}\u00a0", block.size) + 0.8 if block.hang else 0.0


def _lines(block: Prose, wide: float) -> list[str]:
    return wrapped(block.text, block.size, wide - _indent(block), bold=block.bold)


def _words(at: _Pen, block: Prose) -> None:
    at.y -= 0.0 if at.fresh else block.above
    lines, step = _lines(block, at.box.wide), block.size * _LEADING
    for number, line in enumerate(lines):
        if at.y - step < at.box.bottom:
            at.on()
        base = at.y - _RISE * block.size
        if number == 0 and block.hang:
            at.put(Lettering(layer=LAYER, text=block.hang, x=at.box.left, y=base, size=block.size))
        at.put(
            Lettering(layer=LAYER, text=line, x=at.box.left + _indent(block), y=base, size=block.size, bold=block.bold)
        )
        at.y -= step


def _field(at: _Pen, block: BlankLine) -> None:
    size, base = LEAST_TYPE, at.y - block.high + 1.6
    wide = (at.box.wide - (len(block.names) - 1) * _COLUMN_GAP) / len(block.names)
    for number, name in enumerate(block.names):
        left = at.box.left + number * (wide + _COLUMN_GAP)
        start = left + text_width(f"{name}  ", size)
        at.put(
            Lettering(layer=LAYER, text=name, x=left, y=base, size=size),
            straight(LAYER, (start, base - 0.6), (left + wide, base - 0.6), _RULE),
        )
    at.y -= block.high


def _widths(block: TextTable, wide: float) -> tuple[float, ...]:
    """Widths of columns.

    What each column's longest cell takes, or, where that is too much, room by what its words ask for.
    """
    least, natural = [], []
    for column, head in enumerate(block.head):
        bold = column in block.strong
        if column in block.blank:
            room = max(
                block.blank_wide, *(text_width(word, block.size, bold=True) for word in settable(head).split()), 1.0
            )
            least.append(room)
            natural.append(room)
            continue
        cells = [row[column] for row in block.rows if len(row) > 1]
        texts = [(head, True), *((cell, bold) for cell in cells)]
        least.append(
            max(
                (
                    min(text_width(word, block.size, bold=heavy), 34.0)
                    for text, heavy in texts
                    for word in settable(text).split()
                ),
                default=1.0,
            )
        )
        heads = max((text_width(word, block.size, bold=True) for word in settable(head).split()), default=1.0)
        natural.append(max(heads, least[-1], *(text_width(text, block.size, bold=bold) for text in cells), 1.0))
    pads = 2 * _PAD
    room = wide - pads * len(least)
    unbroken = [
        max(value, text_width(head, block.size, bold=True)) for value, head in zip(natural, block.head, strict=True)
    ]
    if sum(unbroken) <= room:
        natural = unbroken
    if sum(natural) <= room:
        spare = (room - sum(natural)) / len(natural) if block.blank else 0.0
        return tuple(value + pads + spare for value in natural)
    low = sum(least)
    if low >= room:
        return tuple(value * room / low + pads for value in least)
    # columns that ask for less than an even share get what they ask for, the others share what is left
    given: dict[int, float] = {}
    while True:
        open_ = [k for k in range(len(least)) if k not in given]
        if not open_:
            return tuple(given[k] + pads for k in range(len(least)))
        share = (room - sum(given.values())) / len(open_)
        settled = {k: natural[k] for k in open_ if natural[k] <= share} or {
            k: least[k] for k in open_ if least[k] > share
        }
        given.update(settled)
        if not settled:
            return tuple(given.get(k, share) + pads for k in range(len(least)))


def _cells(
    block: TextTable, row: Sequence[str], widths: Sequence[float], *, bold: bool
) -> tuple[list[list[str]], float]:
    lines = [
        wrapped(cell, block.size, wide - 2 * _PAD + 1e-6, bold=bold or column in block.strong)
        for column, (cell, wide) in enumerate(zip(row, widths, strict=True))
    ]
    return lines, max(len(one) for one in lines) * block.size * _LEADING + 2 * _over(block)


def _over(block: TextTable) -> float:
    return _TIGHT if block.tight else _PAD


def _grid(at: _Pen, block: TextTable) -> None:
    at.y -= 0.0 if at.fresh else 1.0
    widths = _widths(block, at.box.wide)
    _row(at, block, block.head, widths, bold=True)
    for row in block.rows:
        if len(row) == 1:  # a note under the row above it
            high = _cells(block, row, (sum(widths),), bold=False)[1]
            if at.y - high < at.box.bottom:
                at.on()
                _row(at, block, block.head, widths, bold=True)
            _row(at, block, row, (sum(widths),), bold=False)
            continue
        high = max(_cells(block, row, widths, bold=False)[1], block.least)
        if at.y - high < at.box.bottom:
            at.on()
            _row(at, block, block.head, widths, bold=True)
        _row(at, block, row, widths, bold=False)


def _row(at: _Pen, block: TextTable, row: Sequence[str], widths: Sequence[float], *, bold: bool) -> None:
    lines, high = _cells(block, row, widths, bold=bold)
    high = high if bold else max(high, block.least)
    box = at.box
    whole = Box(left=box.left, bottom=at.y - high, right=box.left + sum(widths), top=at.y)
    if bold:
        at.put(rectangle(LAYER, whole, fill=_SHADE))
    left = box.left
    for column, (cell, wide) in enumerate(zip(lines, widths, strict=True)):
        ends = len(row) > 1 and column in block.right
        x = left + wide - _PAD if ends else left + _PAD
        for number, text in enumerate(cell):
            if text:
                base = at.y - _over(block) - number * block.size * _LEADING - (_RISE + 0.1) * block.size
                at.put(
                    Lettering(
                        layer=LAYER,
                        text=text,
                        x=x,
                        y=base,
                        size=block.size,
                        anchor="end" if ends else "start",
                        bold=bold or (len(row) > 1 and column in block.strong),
                    )
                )
        if column and len(row) > 1 and not bold:
            at.put(straight(LAYER, (left, whole.top), (left, whole.bottom), _RULE))
        left += wide
    foot: tuple[Spot, Spot] = ((whole.left, whole.bottom), (whole.right, whole.bottom))
    at.put(straight(LAYER, *foot, _BAR if bold else _RULE))
    at.y -= high
