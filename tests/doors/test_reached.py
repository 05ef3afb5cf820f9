"""What the package holds, a command reaches: a function that only a test calls is dead, or belongs beside the tests."""

from __future__ import annotations

from pathlib import Path

import reached

from siteplan.cli.main import COMMANDS

PACKAGE = Path(__file__).parents[2] / "siteplan"
DEFINED = ("plan", "new", "check", "deed", "__getattr__")  # the rest of the API stands in its rooms
CALLED_BY_A_LIBRARY = {"siteplan.cli.main._Harmless.writelines"}  # of a stream: what prints to it may call it


def test_every_function_and_value_is_reached_from_a_command():
    found = reached.Walk(reached.modules_of(PACKAGE))
    for name in (
        "siteplan.__main__",
        "siteplan.cli.main.main",
        *(
            f"siteplan.{name}" for name in ("__getattr__", "api.__all__", *(f"api.{one}" for one in DEFINED))
        ),  # docs/python.md
        *(f"siteplan.cli.{command}.{part}" for command in COMMANDS for part in ("declare", "run")),
        "siteplan.assets.refresh",  # docs/map.md: python -m siteplan.assets.refresh
        "siteplan.table.child.make_plan",  # a process of its own, which the drawing table starts
    ):
        found.start(name)
    assert {one.where for one in found.unreached()} == CALLED_BY_A_LIBRARY


TREE = {
    "cli/__init__.py": "",
    "cli/main.py": (
        "from siteplan.room import used\nfrom siteplan import other\n\n\ndef main():\n    return "
        "used(other.LIMIT).told\n"
    ),
    "room.py": (
        "from siteplan.values import Kept\n\nUNREAD = 3\n_OWN = 4\n\n\ndef used(x):\n    return Kept(x + _OWN)\n\n\n"
        "def only_tests():\n    return _helper()\n\n\ndef _helper():\n    return 1\n"
    ),
    "values.py": (
        "class Kept:\n    def __init__(self, x):\n        self.x = x\n\n    @property\n    def told(self):\n "
        "       return self.x\n\n"
        "    @property\n    def never(self):\n        return 0\n\n\nclass Dropped:\n    pass\n"
    ),
    "other.py": "LIMIT = 1\n",
    "alone.py": "def lost():\n    return 0\n",
}


def test_the_walk_finds_what_nobody_calls(tmp_path):
    for name, text in TREE.items():
        path = tmp_path / "siteplan" / name
        path.parent.mkdir(parents=True, exist_ok=True)
        path.write_text(text, encoding="utf-8")
    found = reached.Walk(reached.modules_of(tmp_path / "siteplan"))
    found.start("siteplan.cli.main.main")
    assert {one.where for one in found.unreached()} == {
        "siteplan.room.only_tests",
        "siteplan.room._helper",
        "siteplan.room.UNREAD",
        "siteplan.values.Kept.never",
        "siteplan.values.Dropped",
        "siteplan.alone.lost",
    }
