"""A plan set as PDF in.

How far what is drawn on it lies from the lengths of plan.json at the scales written on its sheets, out.

Read by a general-purpose reader of PDFs: the stroked paths of each page, in millimetres of paper.
"""

from __future__ import annotations

import itertools
import math
import re

import pypdf
from pypdf.generic import ContentStream

POINT_MM = 25.4 / 72.0
PAPERS = {"letter": (279.4, 215.9), "tabloid": (431.8, 279.4), "a4": (297.0, 210.0), "a3": (420.0, 297.0)}
ROUND = {120, 240, 360, 480, 100, 200, 250, 500}  # 1 in = 10 to 40 ft, and those of metric sheets
BLUE = (0.0, 0.447, 0.698)  # of new lines
_PLAN_PEN, _INVERT_PEN = 0.8, 0.35  # mm; a line in plan has that pen whatever its state, and its colour tells the state


def strokes(page):
    """Stroked paths of a page in millimetres: colour, width, points. reportlab draws paths in page coordinates."""
    color, width, path, held, found = (0.0, 0.0, 0.0), 1.0, [], [], []
    for operands, operator in ContentStream(page.get_contents(), page.pdf).operations:
        match operator:
            case b"RG":
                color = tuple(float(v) for v in operands)
            case b"w":
                width = float(operands[0])
            case b"q":
                held.append((color, width))
            case b"Q":
                color, width = held.pop()
            case b"m" | b"l":
                path.append((float(operands[0]) * POINT_MM, float(operands[1]) * POINT_MM))
            case b"S" | b"s":
                found.append((color, width * POINT_MM, path))
                path = []
            case b"n" | b"f" | b"f*" | b"B" | b"B*" | b"b" | b"b*":
                path = []
    return found


def of_blue(page, width):
    return [
        points
        for color, wide, points in strokes(page)
        if all(abs(a - b) < 0.01 for a, b in zip(color, BLUE, strict=True)) and abs(wide - width) < 0.01
    ]


def profiled(text):
    found = re.search(r"Profiles? ([^\n]*)", text)
    return re.findall(r"[LP]\d+", found[1]) if found and "notes" not in found[1] else []


def length(points):
    return sum(math.dist(a, b) for a, b in itertools.pairwise(points))


def _off(drawn, true, least=0.02):
    """Relative error; lengths are written to the hundredth of a millimetre, so that much is no error."""
    return max(0.0, abs(drawn - true) - least) / max(true, 1e-9)


def scale_errors(file, plan, paper):
    """Errors by what was measured: 'plan L1' and 'profile L1' to a share of the true length.

    Every one of them was found on a sheet.

    The plan is measured where it lies on one sheet, line by line in the order of their lengths.
    """
    lines = {one["id"]: one for one in plan["lines"]}
    found = {}
    for page in pypdf.PdfReader(file).pages:
        size = sorted((float(page.mediabox.width) * POINT_MM, float(page.mediabox.height) * POINT_MM), reverse=True)
        assert all(abs(a - b) < 0.1 for a, b in zip(size, PAPERS[paper], strict=True)), size
        text = page.extract_text()
        assert text.strip(), "no text on a sheet"
        ratios = [int(one) for one in re.findall(r"1:(\d+)", text)]
        if "Profile" not in text and ratios and "Plan, part" not in text:
            assert ratios[0] in ROUND, ratios
            drawn = sorted(length(run) for _, wide, run in strokes(page) if abs(wide - _PLAN_PEN) < 0.01)
            drawn = [one for one in drawn if abs(one - 9.0) > 1e-3]  # samples of the key
            true = sorted((one["length"] * 1000.0 / ratios[0], one["id"]) for one in lines.values())
            assert len(drawn) == len(true), (drawn, true)
            for one, (wanted, name) in zip(drawn, true, strict=True):
                found[f"plan {name}"] = _off(one, wanted)
        for name in profiled(text):
            across, up = ratios[:2]
            vertices = lines[name]["vertices"]
            wide = (vertices[-1]["station"] - vertices[0]["station"]) * 1000.0 / across
            high = (vertices[-1]["invert"] - vertices[0]["invert"]) * 1000.0 / up
            # the invert is drawn piece by piece between corners and changes of pipe: two ends that lie so far apart
            ends = [spot for run in of_blue(page, _INVERT_PEN) for spot in run]
            found[f"profile {name}"] = min(
                max(_off(b[0] - a[0], wide), _off(b[1] - a[1], high)) for a in ends for b in ends if b[0] > a[0]
            )
    return found
