"""A person at the page: every click, and every entry typed with its Enter, is one action and is counted."""

from __future__ import annotations

import time
from pathlib import Path


class Hands:
    """A page under a person's hands."""

    def __init__(self, page):
        self.page, self.actions = page, 0

    def key(self, name):
        self.actions += 1
        self.page.keyboard.press(name)

    def type(self, text):
        """An entry and its Enter."""
        self.actions += 1
        self.page.keyboard.type(text)
        self.page.keyboard.press("Enter")

    def click(self, what):
        self.actions += 1
        what.click()

    def at(self, x, y):
        """Where a place of the paper lies on the screen."""
        return self.page.evaluate(
            """async ([x, y]) => { const {toScreen, svg, measure} = await import('./paper.js'); measure();
            const r = svg.getBoundingClientRect(), s = toScreen([x, y]); return [r.left + s[0], r.top + s[1]]; }""",
            [x, y],
        )

    def point(self, x, y):
        """A click at a place of the paper."""
        self.actions += 1
        self.page.mouse.click(*self.at(x, y))

    def held(self):
        """What the page holds."""
        return self.page.evaluate(
            "async () => { const {T} = await import('./state.js'); return {version: T.version, dirty: "
            "T.dirty || T.saving, planning: T.planning,"
            " features: T.doc.features, heights: T.doc.heights, settings: T.doc.settings, answer: T.answer, "
            "notice: T.notice, result: T.result, selected: T.selected, paper: T.paper}; }"
        )

    def until(self, good, seconds=90):
        """Look at what the page holds until it is as wished; the page's policy lets no tool wait inside it."""
        ends = time.monotonic() + seconds
        while not good(held := self.held()):
            assert time.monotonic() < ends, (
                f"still {held['notice'] or held['planning'] or held['dirty']} after {seconds} s"
            )
            self.page.wait_for_timeout(60)
        return held

    def saved(self):
        return self.until(lambda held: not held["dirty"] and held["notice"] is None)

    def answered(self):
        """Until the answer at rest is there."""
        self.saved()
        return self.until(
            lambda held: held["answer"] and not held["answer"]["quick"] and held["answer"]["version"] == held["version"]
        )["answer"]

    def planned(self):
        return self.until(
            lambda held: (
                held["planning"]["state"] not in {"none", "running"}
                and (held["result"] or held["planning"]["state"] != "done")
            ),
            900,
        )


def starter(folder: Path) -> Path:
    """A site folder begun from nothing, as `siteplan new` begins it."""
    from siteplan.cli.main import main

    assert main(["new", str(folder)]) == 0
    return folder
