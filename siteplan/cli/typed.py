"""What people type after an option, checked where it is read: names of files to write, plain numbers.

For argparse's `type`.
"""

from __future__ import annotations

import argparse
import os
from pathlib import Path

_MOST = 1e7  # no station, height or length of a lot is larger, in any unit
_LONGEST_SETTING = 300  # characters of a key and its value
LONGEST_NAME = 255  # bytes that file systems take for one name


def out_file(text: str) -> Path:
    """A file that can be written.

    Parameters
    ----------
    text : str
        As typed.

    Returns
    -------
    Path
        Its folder is there, and it is no folder itself.

    Raises
    ------
    ArgumentTypeError
        Otherwise; says what to do.
    """
    path = Path(text)
    if not text.strip() or not path.name:
        raise argparse.ArgumentTypeError("names no file; give one, such as page.html")
    if any(not c.isprintable() for c in text):
        raise argparse.ArgumentTypeError(f"{text!r} holds a character that cannot be printed; give a plain name")
    if any(len(os.fsencode(part)) > LONGEST_NAME for part in path.parts):
        raise argparse.ArgumentTypeError(
            f"{text[:40]!r}... has a name of more than {LONGEST_NAME} bytes; give a shorter one"
        )
    try:
        if path.is_dir():
            raise argparse.ArgumentTypeError(f"{text!r} is a folder; name a file in it")
        if not path.parent.is_dir():
            raise argparse.ArgumentTypeError(f"{text!r} would lie in a folder that is not there; make it first")
    except OSError as error:
        raise argparse.ArgumentTypeError(f"{text[:40]!r} cannot be reached ({error.strerror}); give another") from error
    return path


def day(text: str) -> str:
    """A date to print, written year-month-day so that it is read the same everywhere.

    Parameters
    ----------
    text : str
        As typed.

    Returns
    -------
    str
        The same.

    Raises
    ------
    ArgumentTypeError
        For anything else, a day that no calendar has among it.
    """
    import datetime as dt

    try:
        same = dt.date.fromisoformat(text).isoformat() == text
    except ValueError:
        same = False
    if not same:
        raise argparse.ArgumentTypeError(f"{text[:40]!r} is no date; write year-month-day, such as 2026-05-01")
    return text


def setting(text: str) -> tuple[str, str]:
    """A key and the value laid over it.

    Parameters
    ----------
    text : str
        As typed: KEY=VALUE.

    Returns
    -------
    tuple of str
        Key and value, spaces round them taken away.

    Raises
    ------
    ArgumentTypeError
        Where either is missing, or cannot be printed.
    """
    key, equals, value = (part.strip() for part in text.partition("="))
    if not (key and equals and value) or not text.isprintable() or len(text) > _LONGEST_SETTING:
        raise argparse.ArgumentTypeError(f"{text[:40]!r} is no KEY=VALUE; write it as min_cover_in=10")
    return key, value


def typed_number(text: str) -> float:
    """A plain finite number.

    Parameters
    ----------
    text : str
        As typed.

    Returns
    -------
    float
        At most 10 million either way.

    Raises
    ------
    ArgumentTypeError
        Otherwise; says what to type.
    """
    try:
        value = float(text) if "_" not in text else float("nan")
    except ValueError:
        value = float("nan")
    if not abs(value) <= _MOST:
        raise argparse.ArgumentTypeError(f"{text[:40]!r} is no number that can be used; type one such as 12.5")
    return value
