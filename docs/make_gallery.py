"""Writes docs/gallery.md and its pictures from the samples; needs pdftoppm.

Python docs/make_gallery.py.
"""  # noqa: INP001 - a script, no package

from __future__ import annotations

import contextlib
import io
import subprocess
import tempfile
from pathlib import Path

DOCS = Path(__file__).parent
SITES = DOCS.parent / "sample_sites"
SHOWN = {  # of each sample, what to look at
    "alder-court": (
        "Works, with choices to rank: a curb at the front, daylight behind, a septic bed and two services in the way."
    ),
    "marsh-lane": "Flat, in metres, a pump pit below everything, a drive in the way and soft ground at the house.",
    "kiln-rise": "A pit that gravity does not serve, lifted through a line under pressure.",
    "long-meadow": "Short by a little: every outlet refused, each with the place and the figure.",
    "quince-terrace": "Nine downspouts round a long house to one curb hole: a trunk of 6 in, branches of 4 in.",
}
HEAD = """# The samples, drawn

Plan sheets of the plan set ([what else is in it](plan-set.md)), as `siteplan sheets` draws them; under each its verdict, as the terminal says it.
Invented lots and people. Made by `python docs/make_gallery.py`.
"""


def verdict_of(said: str) -> str:
    """The first sentence that a plan prints.

    Parameters
    ----------
    said : str
        What the terminal shows.

    Returns
    -------
    str
        On one line.
    """
    lines = said.splitlines()
    end = next(number for number, line in enumerate(lines) if line.startswith("Survey doubt"))
    return " ".join(line.strip() for line in lines[:end])


def _drawn(name: str, folder: Path) -> str:
    from siteplan.cli.main import main

    said = io.StringIO()
    with contextlib.redirect_stdout(said):
        main(["plan", str(SITES / name), "--layouts", "1", "--out", str(folder / name)])
        sheet = folder / f"{name}.pdf"
        main(["sheets", str(folder / name), "--site", str(SITES / name), "--parts", "plan", "--out", str(sheet)])
    picture = DOCS / "gallery" / name
    subprocess.run(  # noqa: S603 - our own arguments
        ["pdftoppm", "-r", "72", "-f", "1", "-l", "1", "-singlefile", "-png", str(sheet), str(picture)],  # noqa: S607 - whichever stands first on the path
        check=True,
    )
    return verdict_of(said.getvalue())


def made_gallery(folder: Path) -> str:
    """The page; its pictures are written beside it.

    Parameters
    ----------
    folder : Path
        For the plans; they are not kept.

    Returns
    -------
    str
        Markdown.
    """
    (DOCS / "gallery").mkdir(exist_ok=True)
    parts = [HEAD]
    for name, words in SHOWN.items():
        parts.append(
            f"## {name}\n\n{words}\n\n> {_drawn(name, folder)}\n\n![The plan sheet of {name}](gallery/{name}.png)\n"
        )
    return "\n".join(parts)


if __name__ == "__main__":
    with tempfile.TemporaryDirectory() as scratch:
        (DOCS / "gallery.md").write_text(made_gallery(Path(scratch)), encoding="utf-8")
