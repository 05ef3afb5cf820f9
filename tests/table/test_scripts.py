"""The page's scripts fit together.

What one takes from another is there and is used, all are served, none has grown beyond reading.
"""

from __future__ import annotations

import re
from importlib import resources

from siteplan.table.serving import ASSETS, SCRIPTS

_FOLDER = resources.files("siteplan.assets").joinpath("table")
_TEXTS = {name: _FOLDER.joinpath(f"{name}.js").read_text(encoding="utf-8") for name in SCRIPTS}
_IMPORT = re.compile(r'^import \{ (.*?) \} from "\./(\w+)\.js";$', re.MULTILINE)
_EXPORT = re.compile(r"^export (?:async )?(?:function|const|let) ([\w$]+)", re.MULTILINE)


def _taken(text):
    return [
        (name.split(" as ")[0], name.split(" as ")[-1], home)
        for names, home in _IMPORT.findall(text)
        for name in names.split(", ")
    ]


def test_what_a_script_takes_is_given_and_used():
    given = {name: set(_EXPORT.findall(text)) for name, text in _TEXTS.items()}
    missing, idle = [], []
    for name, text in _TEXTS.items():
        body = re.sub(r'"(?:\\.|[^"\\])*"', '""', re.sub(r"^import .*$|^\s*//.*$", "", text, flags=re.MULTILINE))
        for said, called, home in _taken(text):
            if said not in given[home]:
                missing.append((name, said, home))
            if not re.search(rf"(?<![.\w$]){re.escape(called)}(?![\w$])", body):
                idle.append((name, called))
    assert missing == []
    assert idle == []


def test_what_a_script_gives_is_taken():
    """By another script, or by the tests' hands."""
    asked = {(said, home) for text in _TEXTS.values() for said, _, home in _taken(text)}
    idle = [(name, one) for name, text in _TEXTS.items() for one in _EXPORT.findall(text) if (one, name) not in asked]
    assert idle == []


def test_every_script_is_served_and_can_be_read():
    lying = {path.name for path in _FOLDER.iterdir() if path.name.endswith(".js")}
    assert lying == {f"{name}.js" for name in SCRIPTS}
    assert lying <= set(ASSETS.values())
    for name, text in _TEXTS.items():
        assert text.startswith("// "), name  # what it is about
        assert text.count("\n") <= 350, name
