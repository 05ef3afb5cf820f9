"""Kinds of buried service, with the colour and letter that mark them on the ground and on our sheets.

Colours follow the American Public Works Association's Uniform Color Code for marking underground utilities (from
memory), which locators paint by: red electric, yellow gas, orange communication, blue potable water, purple reclaimed
water and irrigation, green sewers and drains. The exact shades are ours, dark enough for paper where the code's colour
allows it.
"""

from __future__ import annotations

from typing import NamedTuple


class Service(NamedTuple):
    """A kind of service: its word in the data, its name, its letter in the line, its paint and shade."""

    word: str
    title: str
    letter: str
    paint: str
    shade: str


SERVICES = (
    Service("power", "power", "E", "red", "#d40000"),
    Service("gas", "gas or oil", "G", "yellow", "#ffd400"),
    Service("telecom", "communication", "C", "orange", "#ff8c00"),
    Service("water", "drinking water", "W", "blue", "#0057d9"),
    Service("irrigation", "irrigation or reclaimed water", "R", "purple", "#8e24aa"),
    Service("sewer", "sewer", "S", "green", "#00803a"),
    Service("drain", "drain", "D", "green", "#00803a"),
)
UNSTATED = Service("", "kind not stated", "?", "any colour", "#ffffff")


def service(word: str) -> Service:
    """A service by its word.

    Parameters
    ----------
    word : str
        As in the data; '' or a word not known gives `UNSTATED`.

    Returns
    -------
    Service
        For drawing and saying it.
    """
    return next((one for one in SERVICES if one.word == word), UNSTATED)
