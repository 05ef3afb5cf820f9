"""The book of phrases: what a crew reads, in English and in Spanish, by one id each.

phrases.csv has the columns id, en and es. Names that a user gave and figures are never translated: they are put in
where a phrase has a word in braces. What no phrase stands for (the words of rules, the names of standards) stays
English. The Spanish is common usage on sites of North America, no source.
"""

from __future__ import annotations

import csv
import os
from collections.abc import Mapping
from functools import cache
from typing import Literal, get_args

Language = Literal["english", "spanish"]
LANGUAGES: tuple[Language, ...] = get_args(Language)
TAGS: Mapping[Language, str] = {"english": "en", "spanish": "es"}  # as BCP 47 names them; the columns of the book too


def phrase(ident: str, language: Language = "english", /, **put: str) -> str:
    """A phrase in a language.

    Parameters
    ----------
    ident : str
        Its id in phrases.csv.
    language : str
        'english' or 'spanish'.
    **put : str
        What stands in its braces; put in as it is, never read as a phrase.

    Returns
    -------
    str
        The phrase.

    Raises
    ------
    KeyError
        For an id that the book has not, or braces for which nothing is given: a fault of ours.

    Examples
    --------
    >>> phrase("note.outlet", name="Curb hole"), phrase("note.outlet", "spanish", name="Curb hole")
    ('outlet: Curb hole', 'salida: Curb hole')
    """
    return _phrases()[ident][language].format(**put)


@cache
def _phrases() -> Mapping[str, Mapping[Language, str]]:
    # opened by its path: quick commands do without pathlib and importlib.resources
    with open(os.path.join(os.path.dirname(__file__), "phrases.csv"), encoding="utf-8", newline="") as file:  # noqa: PTH118, PTH120, PTH123
        return {row["id"]: {language: row[tag] for language, tag in TAGS.items()} for row in csv.DictReader(file)}
