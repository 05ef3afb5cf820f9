"""What a crew reads, in two languages.

The book is whole, and the Spanish says of every station what the English says.
"""

from __future__ import annotations

import ast
import csv
import html
import re
from pathlib import Path

import pytest

from siteplan.books.phrases import LANGUAGES, phrase
from siteplan.cli.main import main
from siteplan.sheets.stakes import stakes
from siteplan.sheets.station_notes import station_notes
from siteplan.stored.folder_of import read_plan

_PACKAGE = Path(__file__).parents[2] / "siteplan"
_BOOK = list(csv.DictReader((_PACKAGE / "books" / "phrases.csv").read_text("utf-8").splitlines()))
_BRACES = re.compile(r"\{(\w+)\}")


def _asked():
    """Ids and beginnings of ids that the package asks for.

    Every text in it, and every f-string up to its first figure.
    """
    texts, heads = set(), set()
    for path in sorted(_PACKAGE.rglob("*.py")):
        tree = ast.parse(path.read_text("utf-8"))
        for node in ast.walk(tree):
            if isinstance(node, ast.Constant) and isinstance(node.value, str):
                texts.add(node.value)
            if (
                isinstance(node, ast.Call)
                and getattr(node.func, "id", "") == "phrase"
                and isinstance(node.args[0], ast.JoinedStr)
            ):
                first = node.args[0].values[0]
                heads.add(first.value if isinstance(first, ast.Constant) else "?")
    return texts, heads


def test_every_phrase_is_in_both_languages_and_is_used():
    ids = [row["id"] for row in _BOOK]
    assert len(ids) == len(set(ids)) > 100
    texts, heads = _asked()
    assert "?" not in heads, "an id must begin with a text, so that it can be searched for"
    for row in _BOOK:
        assert row["en"].strip(), row["id"]
        assert row["es"].strip(), row["id"]
        assert set(_BRACES.findall(row["en"])) == set(_BRACES.findall(row["es"])), row["id"]
        assert row["id"] in texts or any(row["id"].startswith(head) for head in heads), f"nobody says {row['id']}"


def test_every_phrase_asked_for_stands_in_the_book():
    ids = {row["id"] for row in _BOOK}
    for path in sorted(_PACKAGE.rglob("*.py")):
        for node in ast.walk(ast.parse(path.read_text("utf-8"))):
            if isinstance(node, ast.Call) and getattr(node.func, "id", "") == "phrase":
                first = node.args[0]
                if isinstance(first, ast.Constant):
                    assert first.value in ids, f"{path.name}:{node.lineno} asks for {first.value}"
                    given = {word.arg for word in node.keywords}
                    wanted = set(_BRACES.findall(next(row["en"] for row in _BOOK if row["id"] == first.value)))
                    assert given == wanted, f"{path.name}:{node.lineno} puts {given} into {wanted}"


def test_what_is_asked_for_by_a_value_stands_there_for_every_value():
    from siteplan.books.services import SERVICES
    from siteplan.sheets.states import STATES
    from siteplan.values.laid_pipe import FittingKind

    wanted = [
        *(f"service.{one.word}" for one in SERVICES),
        *(f"state.{one}" for one in STATES),
        *(f"fitting.{one.value}" for one in FittingKind),
    ]
    for ident in wanted:
        assert all(phrase(ident, language, angle="45", made="45").strip() for language in LANGUAGES), ident


def test_user_text_in_a_phrase_stays_as_it_is():
    assert phrase("note.outlet", "spanish", name="{line} {0} %s") == "salida: {line} {0} %s"


@pytest.mark.parametrize("name", ["alder-court", "marsh-lane", pytest.param("kiln-rise", marks=pytest.mark.slow)])
def test_every_note_is_made_again_from_the_plans_values(sample_plan, name):
    plan = read_plan(sample_plan(name).folder).plan
    told = 0
    for line in plan.every_line:
        spanish = station_notes(plan, line, "spanish")
        assert station_notes(plan, line, "english") == [row.note for row in line.rows]
        for row, words in zip(line.rows, spanish, strict=True):
            assert bool(words) == bool(row.note)
            if row.note:
                # a note that could not be made again would stand in English here
                assert words != row.note, row.note
                told += 1
            assert _figures(words) == _figures(row.note), (row.note, words)
    assert told > 10


def test_a_note_that_says_more_keeps_its_words(sample_plan):
    from dataclasses import replace

    plan = read_plan(sample_plan("alder-court").folder).plan
    line = plan.lines[0]
    rows = (replace(line.rows[0], note="outlet: Rear slope; mind the dog"), *line.rows[1:])
    notes = station_notes(plan, replace(line, rows=rows), "spanish")
    assert notes[0] == "outlet: Rear slope; mind the dog"
    assert notes[-1] == "inicio: DS-2; registro de limpieza"


def test_hand_dig_and_fittings_are_said_in_spanish(sample_plan):
    marsh, alder = (read_plan(sample_plan(name).folder).plan for name in ("marsh-lane", "alder-court"))
    said = [stake.text for line in marsh.every_line for stake in stakes(marsh, line, "spanish")]
    assert (
        "EXCAVE A MANO de 0+008.90 a 0+010.12, 610 mm a cada lado: Power cable (electricidad), a 0.600 m de "
        "profundidad; cruza servicio enterrado Power cable"
    ) in said
    said = [stake.text for line in alder.every_line for stake in stakes(alder, line, "spanish")]
    assert any("cople flexible apto para ello, o un codo de 11.25° girado a la medida" in text for text in said)


def _figures(text):
    return sorted(re.findall(r"\d+(?:[.+]\d+)*", text))


@pytest.fixture
def sheets(sample_plan, capsys, tmp_path):
    """The cut sheet of a sample as screen, card and page, in a language."""

    def made(name, hi, language):
        folder, out = str(sample_plan(name).folder), []
        for more in ([], ["--card"]):
            assert (
                main(
                    [
                        "cutsheet",
                        folder,
                        "--hi",
                        hi,
                        "--offset",
                        "left,3",
                        "--language",
                        language,
                        "--html",
                        str(tmp_path / "c.html"),
                        *more,
                    ]
                )
                == 0
            )
            out.append(capsys.readouterr().out)
        return [*out, (tmp_path / "c.html").read_text("utf-8")]

    return made


_ENGLISH = re.compile(
    r"\b(rod|trench|invert|cover|cut|ground|stake|bedding|outlet|joins|wye|bend|degrees|cleanout|wall|upstream|downstream|edge|side|deep|falls|sure|hub|stations?|left|date|benchmark|checked|dug|signature|today|reading|pipe|changes|start)\b",
    re.IGNORECASE,
)


_MARKS = re.compile(r"<style>.*?</style>|<[^>]+>", re.DOTALL)


@pytest.mark.parametrize(("name", "hi"), [("alder-court", "103"), ("marsh-lane", "5")])
def test_the_spanish_cut_sheet_has_no_english_and_the_same_figures(sheets, sample_plan, name, hi):
    plan = read_plan(sample_plan(name).folder).plan
    names = [one.name for one in (*plan.sources, *plan.outlets, *plan.features)] + [
        c.name for line in plan.every_line for c in line.crossings
    ]
    for english, spanish in zip(sheets(name, hi, "english"), sheets(name, hi, "spanish"), strict=True):
        plain, text = (html.unescape(_MARKS.sub(" ", one)) for one in (english, spanish))
        assert _figures(plain) == _figures(text)
        for own in sorted(filter(None, names), key=len, reverse=True):
            text = " ".join(text.split()).replace(own, "")
        assert not (found := set(_ENGLISH.findall(text))), found
        assert "MIRA FONDO" in text


def test_the_spanish_card_is_no_wider_than_a_phone(sheets):
    from siteplan.stakeout.cutsheet_text import CARD_WIDTH

    _, card, page = sheets("alder-court", "103", "spanish")
    assert max(map(len, card.splitlines())) <= CARD_WIDTH
    assert '<html lang="es">' in page
