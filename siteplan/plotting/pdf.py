"""Pages in; one PDF out: type embedded and selectable, the same bytes for the same pages.

ISO 32000-1 (PDF 1.7) is written by reportlab; lengths of a page are points, 72 to an inch.
"""

from __future__ import annotations

import io
from collections.abc import Sequence
from typing import Any

from siteplan import units
from siteplan.plotting.fonts import BOLD, REGULAR, faces, settable, text_corners
from siteplan.plotting.shapes import Filled, Lettering, Mark, Page, Pen, Spot

_POINT = 72.0 / (units.INCH / units.MILLIMETRE)  # points in a millimetre


def pages_pdf(pages: Sequence[Page], title: str) -> bytes:
    """The pages, one after another.

    Parameters
    ----------
    pages : sequence of Page
        Numbered and framed.
    title : str
        Of the document.

    Returns
    -------
    bytes
        PDF.
    """
    from reportlab.pdfgen.canvas import Canvas

    faces()
    content = io.BytesIO()
    canvas = Canvas(content, invariant=1, pageCompression=1, initialFontName=REGULAR)
    canvas.setTitle(settable(title))
    canvas.setCreator("siteplan")
    canvas.setAuthor("")
    for number, page in enumerate(pages):
        canvas.setPageSize((page.paper.wide * _POINT, page.paper.high * _POINT))
        canvas.bookmarkPage(f"sheet{number}")
        canvas.addOutlineEntry(settable(page.title), f"sheet{number}")
        for shape in page.shapes:
            _draw(canvas, shape)
        canvas.showPage()
    canvas.save()
    return content.getvalue()


def _draw(canvas: Any, shape: Mark) -> None:
    if isinstance(shape, Lettering):
        _letter(canvas, shape)
    elif isinstance(shape, Filled):
        canvas.setFillColor(_ink(shape.fill))
        if shape.pen is not None:
            _take(canvas, shape.pen)
        path = canvas.beginPath()
        for ring in shape.rings:
            _run(path, ring, closed=True)
        canvas.drawPath(path, stroke=int(shape.pen is not None), fill=1, fillMode=0)
    else:
        _take(canvas, shape.pen)
        path = canvas.beginPath()
        _run(path, shape.points, closed=shape.closed)
        canvas.drawPath(path, stroke=1, fill=0)


def _run(path: Any, points: Sequence[Spot], *, closed: bool) -> None:
    for number, (x, y) in enumerate(points):
        (path.lineTo if number else path.moveTo)(x * _POINT, y * _POINT)
    if closed:
        path.close()


def _take(canvas: Any, pen: Pen) -> None:
    canvas.setStrokeColor(_ink(pen.color))
    canvas.setLineWidth(pen.width * _POINT)
    canvas.setLineJoin(1)
    canvas.setDash([length * _POINT for length in pen.dash])


def _letter(canvas: Any, one: Lettering) -> None:
    if one.ground:
        canvas.setFillColor(_ink(one.ground))
        path = canvas.beginPath()
        _run(path, text_corners(one), closed=True)
        canvas.drawPath(path, stroke=0, fill=1)
    canvas.saveState()
    canvas.setFillColor(_ink(one.color))
    canvas.setFont(BOLD if one.bold else REGULAR, one.size * _POINT)
    canvas.translate(one.x * _POINT, one.y * _POINT)
    if one.angle:
        canvas.rotate(one.angle)
    put = {"start": canvas.drawString, "middle": canvas.drawCentredString, "end": canvas.drawRightString}[one.anchor]
    put(0, 0, settable(one.text))
    canvas.restoreState()


def _ink(color: str) -> Any:
    from reportlab.lib.colors import HexColor

    return HexColor(color)
