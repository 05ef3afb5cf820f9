"""One site under the hands of its pages.

The document that they draw on out, whole changed documents in, and saved as the folder.

A page sends back the whole document with the number of the one it started from. A number that is no longer the newest
is refused: two pages cannot overwrite each other. A file that somebody changed on the disk is told, and asked about.
"""

from __future__ import annotations

import itertools
import re
import threading
from collections.abc import Mapping
from dataclasses import replace
from pathlib import Path
from typing import Any

from siteplan.errors import InputError, InputErrors
from siteplan.survey.settings import SITE_FILE
from siteplan.table.checked import (
    MOST_DRAWN,
    changed_settings,
    drawn_value,
    refused_settings,
    told_feature,
    typed_heights,
)
from siteplan.table.drawn_file import DrawnItem, item_of, put_together
from siteplan.table.folder_state import FolderState, HeldFile, read_folder
from siteplan.table.heights_file import TypedHeight, heights_text
from siteplan.table.saving import changed_since, end_saving, save_texts, texts_before
from siteplan.table.settings_form import settings_told
from siteplan.table.toml_lines import TomlValue, with_keys

_ID = re.compile(r"[A-Za-z0-9.-]{1,40}")

KeptFeature = tuple[Mapping[str, Any], DrawnItem]  # as told to pages, as it stands in its file


class OutdatedError(Exception):
    """A page worked on a document that is no longer the newest."""


class TableSession:
    """A site folder held open. Every method may be called from any thread.

    Parameters
    ----------
    folder : Path
        The site folder.
    """

    def __init__(self, folder: Path) -> None:
        self._lock = threading.RLock()
        self._folder = folder.resolve()
        self._count = itertools.count(1)
        self._version = 0
        self._kept: dict[str, list[KeptFeature]] = {}  # by id: every form it had, the newest last
        self._order: dict[str, list[str]] = {}
        end_saving(self._folder)
        self._state = self._read()

    @property
    def folder(self) -> Path:
        """The site folder."""
        return self._folder

    @property
    def state(self) -> FolderState:
        """The folder as it was read or saved last."""
        return self._state

    def _read(self) -> FolderState:
        state = read_folder(self._folder)
        self._version += 1
        self._order = {}
        for file in state.files:
            listed = [] if file.drawn is None else list(file.drawn.items)
            self._order[file.name] = [self._keep(file, item) for item in listed]
        return state

    def _keep(self, file: HeldFile, item: DrawnItem) -> str:
        key = f"f{next(self._count)}"
        self._kept[key] = [(told_feature(key, file, item.value), item)]
        return key

    def document(self) -> dict[str, Any]:
        """What a page draws on.

        Returns
        -------
        dict
            version, paper, features, heights, settings, and what cannot be changed here.
        """
        with self._lock:
            state = self._state
            shown = [
                told_feature(f"s{file.name}{k}", file, value, locked=True)
                for file in state.files
                if file.drawn is None
                for k, value in enumerate(file.shown)
            ]
            return {
                "version": self._version,
                "paper": {"told": state.paper.told, "metres": state.paper.metres},
                "target": state.target,
                "features": [
                    *(self._kept[key][-1][0] for file in state.files for key in self._order[file.name]),
                    *shown,
                ],
                "heights": [
                    {"number": one.number, "x": one.x, "y": one.y, "z": one.z, "note": one.note}
                    for one in state.heights
                ],
                "heights_file": state.heights_file,
                "settings": settings_told(state.settings),
                "troubles": list(state.troubles),
            }

    def numbers(self) -> dict[str, tuple[str, int]]:
        """Where each feature stands, as the planner counts them.

        Returns
        -------
        dict
            Id to file and number in it, from 1.
        """
        with self._lock:
            return {key: (name, k) for name, keys in self._order.items() for k, key in enumerate(keys, 1)}

    def reread(self) -> None:
        """Take what is on the disk."""
        with self._lock:
            end_saving(self._folder)
            self._state = self._read()

    def changed_on_disk(self) -> tuple[str, ...]:
        """Files that somebody else changed since they were read here.

        Returns
        -------
        tuple of str
            Their names.
        """
        with self._lock:
            return changed_since(self._folder, self._state.digests)

    @property
    def version(self) -> int:
        """Number of the newest document."""
        return self._version

    def change(self, body: Mapping[str, Any]) -> int:
        """Save a whole changed document.

        Parameters
        ----------
        body : mapping
            version, features, heights, settings; anyway: true writes over what somebody changed on the disk.

        Returns
        -------
        int
            Number of the new document.

        Raises
        ------
        OutdatedError
            If it started from an older document.
        ChangedOnDiskError
            If a file is not what was read.
        InputError
            For a document that is none; nothing is written.
        """
        with self._lock:
            if body.get("version") != self._version:
                raise OutdatedError
            state = self._state
            drawn, order = self._drawn(body.get("features"))
            same = order == self._order and all(drawn[key] is self._kept[key][-1] for key in drawn)
            heights = typed_heights(body.get("heights"))
            keys = changed_settings(body.get("settings", {}), state)
            refused = refused_settings(state, keys)
            if refused:
                raise InputErrors(refused)
            texts: dict[str, str | None] = {}
            for file in () if same else state.files:
                if file.drawn is None:
                    continue
                text = put_together(replace(file.drawn, items=tuple(drawn[key][1] for key in order[file.name])))
                if text != state.texts.get(file.name) and (order[file.name] or self._order[file.name]):
                    texts[file.name] = text
            named = state.settings.get("features")
            listed = list(named.get("files", [])) if isinstance(named, Mapping) else []
            if state.target in texts and state.target not in listed:
                keys["features.files"] = [*(one for one in listed if isinstance(one, str)), state.target]
            if heights != state.heights:
                texts |= self._heights_saved(heights, keys)
            text = with_keys(state.texts[SITE_FILE], keys, SITE_FILE) if keys else state.texts[SITE_FILE]
            texts[SITE_FILE] = text
            before = {name: self._was(name) for name in texts}
            save_texts(self._folder, before, texts, anyway=bool(body.get("anyway")))
            for key, one in drawn.items():
                forms = self._kept.setdefault(key, [])
                self._kept[key] = [*(form for form in forms if form is not one), one]
            self._version += 1
            self._state = self._as_saved(order)
            return self._version

    def _as_saved(self, order: Mapping[str, list[str]]) -> FolderState:
        """The folder read again, its features under the ids that pages know."""
        fresh = read_folder(self._folder)
        for file in fresh.files:
            items = () if file.drawn is None else file.drawn.items
            if len(items) != len(order.get(file.name, ())):
                self._version -= 1
                return self._read()
        self._order = {file.name: list(order.get(file.name, [])) for file in fresh.files}
        return fresh

    def _was(self, name: str) -> str | None:
        text = self._state.texts.get(name, "")
        return None if not text and self._state.digests.get(name) is None else text

    def step_back(self, number: int) -> None:
        """Bring back what the files held before a save.

        Parameters
        ----------
        number : int
            Of the save.

        Raises
        ------
        InputError
            If there is none of that number.
        """
        with self._lock:
            save_texts(self._folder, {}, texts_before(self._folder, number), anyway=True)
            self._state = self._read()

    def _heights_saved(
        self, heights: tuple[TypedHeight, ...], keys: dict[str, TomlValue | None]
    ) -> dict[str, str | None]:
        name = self._state.heights_file
        if name is None:
            raise InputError(
                "heights", "cannot be typed here: the site's list of shots has a form of its own", "Add them to it."
            )
        ground = self._state.settings.get("ground")
        stands = isinstance(ground, Mapping) and bool(ground.get("shots"))
        if heights and not stands:
            keys["ground.shots"] = name
        if not heights and isinstance(ground, Mapping) and stands and ground.get("grid"):
            keys["ground.shots"] = None
        return {name: heights_text(self._state.texts.get(name, ""), heights)}

    def _drawn(self, features: Any) -> tuple[dict[str, KeptFeature], dict[str, list[str]]]:
        """Features of the document by id, and the order of each file; what nobody changed as it stands."""
        if not isinstance(features, list) or len(features) > MOST_DRAWN:
            raise InputError("features", f"are no list of at most {MOST_DRAWN}", "Load the page again.")
        files = {file.name: file for file in self._state.files if file.drawn is not None}
        drawn: dict[str, KeptFeature] = {}
        order: dict[str, list[str]] = {file.name: [] for file in self._state.files}
        for one in features:
            if not isinstance(one, Mapping) or not isinstance(one.get("id"), str) or one["id"] in drawn:
                raise InputError("features", "hold one without an id of its own", "Load the page again.")
            key = one["id"]
            if not _ID.fullmatch(key):
                raise InputError("features", "hold one whose id is none of ours", "Load the page again.")
            forms = self._kept.get(key, [])
            kept = next((form for form in reversed(forms) if form[0]["locked"] or form[0] == one), None)
            if kept is not None:
                name = str(kept[0]["file"])
            elif one.get("locked"):
                continue  # of a file that is not written to
            else:
                file = files.get(str(one.get("file"))) or files[self._state.target]
                name = file.name
                value = drawn_value(one, file, forms[-1][1].value if forms else None)
                kept = (told_feature(key, file, value), item_of(value))
            if name not in order:
                raise InputError(name, "is no file of the site any more", "Load the page again.")
            drawn[key] = kept
            order[name].append(key)
        for name, keys in self._order.items():
            lost = [key for key in keys if self._kept[key][-1][0]["locked"] and key not in drawn]
            drawn |= {key: self._kept[key][-1] for key in lost}
            order[name] = [*order[name], *lost]
        return drawn, order
