"""The index of DEVELOPERS.md.

Each file that it names is there, and each name is defined in the file that it stands behind.
"""

from __future__ import annotations

import ast
import re
from pathlib import Path

REPO = Path(__file__).parents[2]
ROOMS = REPO / "siteplan"
MARKED = re.compile(r"`([^`]+)`")


def index():
    """What is looked for, and the places told: file and the names behind it."""
    text = (REPO / "DEVELOPERS.md").read_text(encoding="utf-8").partition("## Where is it")[2].partition("\n## ")[0]
    for row in (line for line in text.splitlines() if line.startswith("| ") and not line.startswith("| you")):
        wanted, told = row.strip("| ").split(" | ")
        places = []
        for one in MARKED.findall(told):
            if one.endswith((".py", ".csv")):
                places.append((one, []))
            else:
                places[-1][1].append(one)
        yield wanted, places


def defined(path):
    names = set()
    for node in ast.parse(path.read_text(encoding="utf-8")).body:
        if isinstance(node, ast.FunctionDef | ast.ClassDef):
            names.add(node.name)
        elif isinstance(node, ast.Assign):
            names |= {target.id for target in node.targets if isinstance(target, ast.Name)}
        elif isinstance(node, ast.AnnAssign) and isinstance(node.target, ast.Name):
            names.add(node.target.id)
    return names


def test_every_place_of_the_index_is_there():
    rows = [*index()]
    assert len(rows) >= 15
    wrong = []
    for wanted, places in rows:
        assert places, wanted
        for file, names in places:
            path = ROOMS / file
            if not path.is_file():
                wrong.append((wanted, file))
            elif names:
                wrong += [(wanted, file, name) for name in names if name not in defined(path)]
    assert wrong == []


def test_every_room_is_on_the_map():
    text = (REPO / "DEVELOPERS.md").read_text(encoding="utf-8").partition("## Three commands")[0]
    rooms = {path.parent.name for path in ROOMS.glob("*/__init__.py")} - {"assets"}
    assert {room for room in rooms if f"`{room}/`" not in text} == set()
