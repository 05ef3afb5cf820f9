"""The page as a person uses it.

A lot from nothing by mouse and keys, the contractor's part by touch, and nothing else asked of the network.
"""

from __future__ import annotations

import importlib.util
import json
import shutil
import sys
import tomllib
from pathlib import Path

import pytest


def _beside(name):
    """Modules of this folder are no package: loaded by their path, once."""
    if name not in sys.modules:
        spec = importlib.util.spec_from_file_location(name, Path(__file__).with_name(f"{name}.py"))
        module = importlib.util.module_from_spec(spec)
        sys.modules[name] = module
        spec.loader.exec_module(module)
    return sys.modules[name]


hands = _beside("hands")
SAMPLES = Path(__file__).parents[2] / "sample_sites"
pytestmark = pytest.mark.browser


@pytest.fixture
def at_table(chromium, serve):
    """Opens a page on a folder; what it asked for elsewhere, and what it complained of, is looked at in the end."""
    opened = []

    def open_page(folder, width=1280, height=800, **given):
        stack = serve(folder)
        asking = stack.__enter__()
        context = chromium.new_context(viewport={"width": width, "height": height}, **given)
        page = context.new_page()
        asked, said = [], []
        page.on("request", lambda request: asked.append(request.url))
        page.on("console", lambda message: said.append(message.text))
        page.on("pageerror", lambda error: said.append(str(error)))
        page.goto(asking.server.address)
        opened.append((stack, context, asking, asked, said))
        one = hands.Hands(page)
        one.until(lambda held: held["version"] > 0)
        return one, asking

    yield open_page
    for stack, context, asking, asked, said in opened:
        context.close()
        stack.__exit__(None, None, None)
        assert {url for url in asked if not url.startswith((asking.server.address, "data:"))} == set()
        # a browser notes a refusal of a stale page, or of a bad value, by itself
        assert [
            text for text in said if "409 (Conflict)" not in text and "422 (Unprocessable Entity)" not in text
        ] == []


def _copy(tmp_path, name):
    return Path(shutil.copytree(SAMPLES / name, tmp_path / name))


def _begin(one, unit="ft"):
    page = one.page
    one.actions += 1
    page.locator("#u-name").fill("Lot 9")
    page.locator("#u-length").select_option(unit)
    one.actions += 1
    one.click(page.get_by_role("button", name="Begin"))
    one.saved()


_HEIGHTS = (
    "-15, -10, 98.6 gutter",
    "28, -10, 98.5 gutter",
    "105, -10, 98.4 gutter",
    "0, 0, 101.2",
    "90, 0, 101.1",
    "45, 50, 102.6",
    "20, 60, 102.6",
    "70, 60, 102.5",
    "45, 90, 102.6",
    "0, 140, 101",
    "90, 140, 100.8",
    "-20, 60, 102",
    "110, 60, 101.8",
)


def _lot_from_nothing(one):
    """A lot with house, drive, four downspouts, a sump, a curb and its outlet, on heights typed in."""
    page = one.page
    _begin(one)
    for key, *entries in (
        ("l", "0, 0", "90 x 140"),
        ("b", "25, 55", "40 x 30"),
        ("d", "69, -10", "12 x 72"),
        ("c", "-20, -10", "130 E", ""),
    ):
        one.key(key)
        for entry in entries:
            one.type(entry)
    one.click(page.locator("#fit"))
    one.click(page.locator("[data-kind=downspout]"))
    one.click(page.get_by_role("button", name="At 4 corners of House"))
    one.key("s")
    one.point(45, 86)
    one.key("o")
    one.point(28, -10.4)
    one.key("h")
    for entry in _HEIGHTS:
        one.type(entry)
    one.key("Escape")


def test_a_lot_from_nothing_under_sixty_actions(tmp_path, at_table):
    folder = hands.starter(tmp_path / "new")
    one, _ = at_table(folder)
    _lot_from_nothing(one)
    answer = one.answered()
    assert answer["faults"] == []
    assert {(pair["source"], pair["outlet"]) for pair in answer["pairs"]} == {
        (source, "Curb outlet") for source in ("DS-1", "DS-2", "DS-3", "DS-4", "Sump")
    }
    assert [pair["spare_text"] for pair in answer["pairs"] if not pair["serves"]] == []
    assert one.actions < 60
    drawn = json.loads((folder / "features.geojson").read_text())["features"]
    assert [feature["properties"]["kind"] for feature in drawn] == [
        "lot",
        "building",
        "driveway",
        "curb",
        *["downspout"] * 4,
        "sump",
        "curb_outlet",
    ]
    assert drawn[1]["geometry"]["coordinates"] == [[[25, 55], [65, 55], [65, 85], [25, 85], [25, 55]]]
    assert [feature["properties"]["roof_area"] for feature in drawn[4:8]] == [300] * 4
    # the outlet was clicked 0.4 ft off the curb: it lies on it
    assert drawn[9]["geometry"]["coordinates"][1] == pytest.approx(-10, abs=1e-9)
    assert (folder / "shots.csv").read_text().count("\n") == 1 + len(_HEIGHTS)
    text = (folder / "site.toml").read_text()
    assert tomllib.loads(text)["length_unit"] == "ft"
    assert "# length_unit" not in text  # the question of the new folder is answered on its own line


@pytest.mark.slow
def test_the_plan_from_the_page_has_the_bytes_of_the_command(tmp_path, at_table):
    from siteplan.cli.main import main
    from siteplan.values.asked_for import USUAL_LAYOUTS

    folder = hands.starter(tmp_path / "new")
    one, _ = at_table(folder)
    _lot_from_nothing(one)
    one.saved()
    one.click(one.page.locator("#plan"))
    held = one.planned()
    assert held["planning"]["state"] == "done"
    assert one.actions < 60
    assert {
        source
        for line in json.loads((folder / "plan" / "plan.json").read_text())["lines"]
        for source in line["sources"]
    } == {f"S{k}" for k in range(1, 6)}
    assert len(held["result"]["lines"]) >= 1
    assert main(["plan", str(folder), "--out", str(tmp_path / "out"), "--layouts", str(USUAL_LAYOUTS)]) in {0, 1}
    ours, theirs = (
        {path.name: path.read_bytes() for path in where.iterdir()} for where in (folder / "plan", tmp_path / "out")
    )
    assert ours == theirs


def test_spare_follows_a_drag(tmp_path, at_table):
    """While the outlet is dragged the figures are those of the new place, and where it stops it is saved there."""
    folder = _copy(tmp_path, "long-meadow")
    one, _ = at_table(folder)
    page = one.page
    before = {pair["source"]: pair["spare"] for pair in one.answered()["pairs"] if pair["outlet"] == "Swale"}
    outlet = next(f for f in one.held()["features"] if f["properties"]["kind"] == "daylight_outlet")
    x, y = outlet["xy"][0]
    page.mouse.move(*one.at(x, y))
    page.mouse.down()
    for k in range(1, 9):
        page.mouse.move(*one.at(x - k, y))
    one.until(lambda held: held["answer"]["quick"])
    assert page.locator("#pill").is_visible()
    assert "Swale" in page.locator("#pill").inner_text()
    page.mouse.up()
    after = {pair["source"]: pair["spare"] for pair in one.answered()["pairs"]}
    assert set(after) == set(before)
    assert all(abs(after[name] - before[name]) > 1e-4 for name in after)
    moved = next(
        f
        for f in json.loads((folder / "features.geojson").read_text())["features"]
        if f["properties"]["kind"] == "daylight_outlet"
    )
    assert moved["geometry"]["coordinates"][0] == pytest.approx(x - 8, abs=1.0)
    # the server's own answer for the saved folder is what the page shows
    page.keyboard.press("Control+z")
    one.answered()
    back = next(
        f
        for f in json.loads((folder / "features.geojson").read_text())["features"]
        if f["properties"]["kind"] == "daylight_outlet"
    )
    assert back["geometry"]["coordinates"] == [x, y]
    assert (folder / "features.geojson").read_bytes() == (SAMPLES / "long-meadow" / "features.geojson").read_bytes()


def test_a_picture_is_taken_and_laid_by_corners(tmp_path, at_table):
    """A PDF of this machine, put underneath by three corners of the lot; a slip of one is told in feet.

    Undo brings the page before back.
    """
    pytest.importorskip("pypdfium2")
    from reportlab.pdfgen.canvas import Canvas

    plat = Canvas(str(tmp_path / "sent.pdf"), pagesize=(144, 216), invariant=True)
    plat.rect(27, 24, 90, 140)  # the lot, a point a foot
    plat.save()
    folder = _copy(tmp_path, "alder-court")
    one, _ = at_table(folder)
    page = one.page
    one.saved()
    page.keyboard.press("j")
    page.locator("#picfile").set_input_files(tmp_path / "sent.pdf")
    image = page.locator(".sheet img")
    image.wait_for()
    assert (folder / "plat.png").is_file()
    page.locator("#picin").click()  # nearer: the place picked is the same
    for corner, slip in ((0, 0), (1, 0), (2, 2)):
        x, y = [(27, 192), (117, 192), (117, 52)][corner]
        box = image.bounding_box()
        image.click(position={"x": (x + slip) / 144 * box["width"], "y": y / 216 * box["height"]})
        page.locator("#picplace").select_option(str(corner))
        page.get_by_role("button", name="Add point").click()
        page.locator(".known li").nth(corner).wait_for()
        one.saved()
    # a scale, a turn and a place put through the three by a general solver (numpy.linalg.lstsq, once, beside this):
    # 0.762 ft is left
    page.get_by_text("they miss by").wait_for()
    told = page.locator("#pictold").inner_text()
    assert float(told.split("miss by ")[1].split(" ft")[0]) == pytest.approx(0.762, abs=0.08)  # a click is a pixel wide
    page.get_by_role("button", name="Close").click()
    assert page.locator("#paper image[href*='picture?plat.png']").count() == 1
    rows = tomllib.loads((folder / "site.toml").read_text())["plat"]["image_points"]
    assert [row[2:] for row in rows] == [[1210000, 205000], [1210090, 205000], [1210090, 205140]]
    assert rows[0][:2] == pytest.approx([27 / 144 * 400, 192 / 216 * 600], abs=1.5)
    for _ in range(4):
        page.locator("#undo").click()
    one.saved()
    assert "plat" not in tomllib.loads((folder / "site.toml").read_text())


def test_undo_goes_on_over_a_reload(tmp_path, at_table):
    """Two things drawn, the page loaded anew.

    Undo steps back over the kept saves to the folder as it was, and redo on again.
    """
    folder = _copy(tmp_path, "long-meadow")
    one, asking = at_table(folder)
    page = one.page
    before = (folder / "features.geojson").read_bytes()
    texts = [before]
    for place in ("40, 180", "60, 180"):
        page.locator("#paper").focus()
        page.keyboard.press("p")
        page.keyboard.type(place)
        page.keyboard.press("Enter")
        one.saved()
        texts.append((folder / "features.geojson").read_bytes())
        page.keyboard.press("Escape")
    page.goto(asking.server.address)
    one.until(lambda held: held["version"] > 0)

    def press(name, text):
        page.locator(f"#{name}").click()
        page.wait_for_timeout(50)
        one.saved()
        for _ in range(100):
            if (folder / "features.geojson").read_bytes() == text:
                return
            page.wait_for_timeout(30)
        raise AssertionError(name)

    press("undo", texts[1])
    press("undo", texts[0])
    press("redo", texts[1])
    press("redo", texts[2])
    press("undo", texts[1])
    # what is drawn then is undone first, and the saves before it after that
    page.locator("#paper").focus()
    page.keyboard.press("p")
    page.keyboard.type("80, 180")
    page.keyboard.press("Enter")
    one.saved()
    press("undo", texts[1])
    press("undo", texts[0])
    page.wait_for_timeout(200)
    assert [f["properties"]["name"] for f in one.held()["features"] if f["properties"]["kind"] == "downspout"] == [
        f["properties"]["name"] for f in json.loads(before)["features"] if f["properties"]["kind"] == "downspout"
    ]


def test_a_value_that_is_refused_stays_in_its_field_with_the_reason(tmp_path, at_table):
    """The file is left alone and drawing goes on; a good value in its place is saved.

    Nothing of the bad one is left to undo.
    """
    folder = _copy(tmp_path, "alder-court")
    one, _ = at_table(folder)
    page = one.page
    one.saved()
    before = (folder / "site.toml").read_bytes()
    page.locator("#tab-site").click()
    page.locator("details[data-of='Trench'] > summary").click()
    field = page.locator("#f-trench-certainty")
    field.fill("2")
    field.press("Enter")
    page.locator("#f-trench-certainty-why").wait_for()
    assert "Give a share from 0.5 (no margin) to 0.999." in page.locator("#f-trench-certainty-why").inner_text()
    assert (field.input_value(), field.get_attribute("aria-invalid")) == ("2", "true")
    assert "f-trench-certainty-why" in field.get_attribute("aria-describedby")
    assert page.locator("#notice").is_hidden()
    assert page.locator("#undo").is_disabled()
    assert (folder / "site.toml").read_bytes() == before
    field.fill("0.9")
    field.press("Enter")
    one.saved()
    assert page.locator("#f-trench-certainty-why").count() == 0
    assert tomllib.loads((folder / "site.toml").read_text())["trench"] == {"certainty": 0.9}
    page.locator("#undo").click()
    one.saved()
    assert (folder / "site.toml").read_bytes() == before


def test_by_keys_alone(tmp_path, at_table):
    """No pointer: a tree is drawn at the crosshair, taken, moved and deleted, and undone as far as the beginning."""
    folder = _copy(tmp_path, "long-meadow")
    one, _ = at_table(folder)
    page = one.page
    page.locator("#paper").focus()
    page.keyboard.press("p")
    for key in ("ArrowRight", "Shift+ArrowUp", "Enter", "Escape"):
        page.keyboard.press(key)
    one.saved()
    drawn = [f for f in one.held()["features"] if f["properties"].get("name") == "DS-1"]
    before = drawn[-1]["xy"][0] if drawn else None
    assert before is not None
    page.keyboard.press("Enter")
    assert one.held()["selected"] == drawn[-1]["id"]
    for key in ("g", "ArrowLeft", "ArrowLeft", "Enter"):
        page.keyboard.press(key)
    one.saved()
    after = next(f for f in one.held()["features"] if f["id"] == drawn[-1]["id"])["xy"][0]
    assert after == pytest.approx([before[0] - 2, before[1]])
    page.keyboard.press("Delete")
    one.saved()
    assert all(f["id"] != drawn[-1]["id"] for f in one.held()["features"])
    for _ in range(3):
        page.keyboard.press("Control+z")
    one.saved()
    assert (folder / "features.geojson").read_bytes() == (SAMPLES / "long-meadow" / "features.geojson").read_bytes()
    page.keyboard.press("?")
    assert page.get_by_role("dialog").is_visible()


class _Finger:
    def __init__(self, page):
        self._session = page.context.new_cdp_session(page)

    def send(self, kind, *place):
        points = [{"x": place[0], "y": place[1]}] if place else []
        self._session.send("Input.dispatchTouchEvent", {"type": kind, "touchPoints": points})


def test_a_contractor_s_part_by_touch(tmp_path, at_table):
    """At 390 px: the outlet is moved by a finger, a height is typed, the spare is read.

    Nothing is wider than the screen.
    """
    folder = _copy(tmp_path, "alder-court")
    one, _ = at_table(folder, 390, 844, has_touch=True, is_mobile=True)
    page = one.page
    one.saved()
    outlet = next(f for f in one.held()["features"] if f["properties"]["kind"] == "curb_outlet")
    x, y = outlet["xy"][0]
    start, end = one.at(x, y), one.at(x - 12, y)
    finger = _Finger(page)
    finger.send("touchStart", *start)
    for k in range(1, 7):
        finger.send("touchMove", start[0] + (end[0] - start[0]) * k / 6, start[1])
    finger.send("touchEnd")
    one.answered()
    moved = next(f for f in one.held()["features"] if f["id"] == outlet["id"])
    assert moved["xy"][0][0] == pytest.approx(x - 12, abs=2)
    assert "has to spare" in page.locator("#panel").inner_text()
    assert "fall to spare" in page.locator("#panel").inner_text()
    page.get_by_role("button", name="Height", exact=True).tap()
    page.touchscreen.tap(*one.at(1210001, 205001))  # beside the lot's corner: drawn to it
    page.locator("#entry").fill("99.31 gutter")
    page.locator("#enter").tap()
    one.saved()
    (height,) = one.held()["heights"]
    assert (height["z"], height["note"]) == (99.31, "gutter")
    assert (height["x"], height["y"]) == (1210000, 205000)
    assert "99.31,gutter" in (folder / "shots.csv").read_text()
    assert page.evaluate("document.documentElement.scrollWidth") <= 390
    small = page.evaluate(
        "[...document.querySelectorAll('button, select, input')].filter(b => b.offsetParent && b.type !== "
        "'checkbox' && b.getBoundingClientRect().height < 43.5).map(b => b.textContent || b.id)"
    )
    assert small == []


def _engine(page):
    """The accessibility engine put into a page.

    What it finds, and what it could not look at because something lies over it.
    """
    engine = pytest.importorskip("axe_playwright_python.sync_playwright")
    text = (Path(engine.__file__).parent / "axe.min.js").read_text(encoding="utf-8")
    session = page.context.new_cdp_session(page)
    session.send("Runtime.evaluate", {"expression": text})  # the page's policy lets no tool add a script

    def violations(settle=80):
        page.wait_for_timeout(settle)
        told = session.send(
            "Runtime.evaluate",
            {
                "expression": "axe.run().then(r => JSON.stringify(r.violations.map(v => [v.id, v.nodes.map(n => n.html)])))",
                "awaitPromise": True,
                "returnByValue": True,
            },
        )
        return json.loads(told["result"]["value"])

    return violations


_SIZES = [(1280, 800), pytest.param(390, 844, marks=pytest.mark.slow)]


@pytest.mark.parametrize(("width", "height"), _SIZES)
def test_accessibility_engine_finds_nothing(tmp_path, at_table, width, height):
    one, _ = at_table(_copy(tmp_path, "long-meadow"), width, height)
    page = one.page
    one.answered()
    violations = _engine(page)
    for tab in ("Answer", "Drawn", "Site", "Plan"):
        page.get_by_role("tab", name=tab).click()
        assert violations() == [], tab
    page.get_by_role("tab", name="Drawn").click()
    page.locator(".drawn button").first.click()
    page.get_by_role("tab", name="Taken").click()
    page.locator("[data-kind=downspout]").click()
    assert violations() == []
    page.locator("#help").click()
    assert violations() == []


@pytest.mark.parametrize(("width", "height"), [pytest.param(1280, 800, marks=pytest.mark.slow), (390, 844)])
def test_the_engine_finds_nothing_in_any_dialog(crew_folder, tmp_path, at_table, width, height):
    """Units, the crew's corners, deed, picture with its points, every form of the site open and one value refused."""
    one, _ = at_table(crew_folder, width, height)
    page = one.page
    violations = _engine(page)
    found = {"units": violations()}
    page.locator("#u-length").select_option("us-ft")
    page.get_by_role("button", name="Begin").click()
    one.saved()
    page.locator("#confirm").wait_for()
    found["corners"] = violations()
    page.locator("#confirm").click()
    one.saved()
    page.locator("[data-tool=deed]").click()
    page.locator("#calls").fill("N 95 E 3")
    page.get_by_role("button", name="Lay out").click()
    found["deed, a call that is none"] = violations()
    page.locator("#calls").fill(
        "North 140\nEast 90\ncurve right, radius 1400.00, arc 100.00, chord South\nSouth 40.01\nWest 90"
    )
    page.get_by_role("button", name="Lay out").click()
    found["deed"] = violations()
    page.get_by_role("button", name="Close").click()
    picture = tmp_path / "sent.png"
    pytest.importorskip("PIL.Image").new("RGB", (300, 200), "white").save(picture)
    page.locator("[data-tool=picture]").click()
    found["picture, none"] = violations()
    page.locator("#picfile").set_input_files(picture)
    page.locator(".sheet img").wait_for()
    for column, row, corner in ((10, 190, 0), (290, 190, 1), (290, 10, 2)):
        page.locator("#piccolumn").fill(str(column))
        page.locator("#picrow").fill(str(row))
        page.locator("#picplace").select_option(label=f"Corner {corner + 1} of the lot")
        page.get_by_role("button", name="Add point").click()
        one.saved()
    found["picture"] = violations()
    assert page.locator(".known li").count() == 3
    page.get_by_role("button", name="Close").click()
    page.locator("#tab-site").click()
    page.locator("[data-of=Rules]").wait_for()
    page.evaluate(
        "for (const d of document.querySelectorAll('#panel details[data-of]')) if (d.dataset.of !== "
        "'history') d.open = true"
    )
    page.locator("#f-trench-certainty").fill("2")
    page.locator("#f-trench-certainty").press("Enter")
    page.locator("#f-trench-certainty-why").wait_for()
    found["rules and all forms"] = violations()
    assert {name: what for name, what in found.items() if what} == {}
    assert page.evaluate("document.documentElement.scrollWidth") <= width


def test_hostile_names_stay_text(tmp_path, at_table):
    folder = _copy(tmp_path, "alder-court")
    path = folder / "features.geojson"
    name = "<img src=x onerror=window.hit=1>{{7*7}}</script>\u202e"
    path.write_text(path.read_text().replace('"Sump"', json.dumps(name)).replace('"Curb hole"', json.dumps("<b>o</b>")))
    site = folder / "site.toml"
    site.write_text(site.read_text().replace("Alder Court, lot 7", "<svg onload=window.hit=2>"))
    one, _ = at_table(folder)
    one.saved()
    page = one.page
    for tab in ("Drawn", "Site", "Plan", "Answer"):
        page.get_by_role("tab", name=tab).click()
    assert page.evaluate("window.hit === undefined && document.querySelectorAll('img, b, script').length === 1")
    assert page.locator("h1").inner_text() == "<svg onload=window.hit=2>"


def test_two_pages_are_asked(tmp_path, at_table):
    """A page that is behind is told so, and takes the other's or keeps its own as its person says."""
    folder = _copy(tmp_path, "long-meadow")
    one, asking = at_table(folder)
    asking.change(lambda document: document["settings"].update({"name": "Theirs"}))
    page = one.page
    page.locator("#paper").focus()
    page.keyboard.press("p")
    page.keyboard.type("40, 180")
    page.keyboard.press("Enter")
    one.until(lambda held: held["notice"])
    assert "Another page changed this site." in page.locator("#notice").inner_text()
    assert "DS-1" not in (folder / "features.geojson").read_text()
    page.get_by_role("button", name="Take theirs").click()
    one.until(lambda held: held["notice"] is None)
    assert one.held()["settings"]["name"] == "Theirs"


def _tool(page):
    return page.evaluate("async () => { const {T} = await import('./state.js'); return [T.tool, T.kind]; }")


def test_keys_work_wherever_the_focus_is(tmp_path, at_table):
    """After a click on any button, tab, box or row of a list a letter takes its tool.

    Also what is typed goes to the entry.
    """
    one, _ = at_table(_copy(tmp_path, "long-meadow"))
    page = one.page
    one.answered()
    clicked = [
        page.locator(f"#{name}")
        for name in ("fit", "in", "out", "inches", "tab-drawn", "tab-site", "tab-plan", "tab-answer")
    ]
    clicked += [page.locator("#panel .pair").first, page.locator("#panel")]
    for what in clicked:
        what.click()
        assert page.evaluate("document.activeElement.id !== 'paper'"), what
        page.keyboard.press("b")
        assert _tool(page) == ["draw", "building"], what
        what.click()  # the tool stays in hand, and the place typed is its first corner
        page.keyboard.type("40, 180")
        page.keyboard.press("Enter")
        assert "corner 2" in page.locator("#barname").inner_text(), what
        for _ in range(2):
            page.keyboard.press("Escape")
        page.locator("#paper").focus()
        page.keyboard.press("Escape")
    # a button keeps Enter and Space, a field its letters, a list its own
    page.locator("#tab-drawn").click()
    page.locator("#inches").focus()
    page.keyboard.press("Space")
    page.wait_for_timeout(60)
    assert page.locator("#inches").get_attribute("aria-pressed") == "true"  # for the third time: it was clicked twice
    page.keyboard.press("Enter")
    page.wait_for_timeout(60)
    assert page.locator("#inches").get_attribute("aria-pressed") == "false"
    assert _tool(page)[0] == "select"
    page.locator("#tab-site").click()
    field = page.locator("#panel input").first
    held = field.input_value()
    field.press("End")
    page.keyboard.type("b")
    assert field.input_value() == held + "b"
    assert _tool(page)[0] == "select"
    page.locator("#help").click()
    page.keyboard.press("b")
    assert _tool(page)[0] == "select"


def _seen(page, places):
    """Whether places of the paper lie on the screen."""
    return page.evaluate(
        """async (places) => { const {toScreen, svg, measure} = await import('./paper.js'); measure();
        const r = svg.getBoundingClientRect(); return places.every((p) => { const s = toScreen(p); return s[0] >= 0 && s[1] >= 0 && s[0] <= r.width && s[1] <= r.height; }); }""",
        places,
    )


_CREW = [
    (205000, 1210000, 101.2, "LOT SW"),
    (205000, 1210090, 101.1, "LOT SE"),
    (205140, 1210090, 100.8, "LOT NE"),
    (205140, 1210000, 101, "LOT NW"),
    (205055, 1210025, 102.6, "GR"),
    (204990, 1209985, 98.6, "GUT"),
    (204990, 1210105, 98.4, "GUT"),
]


@pytest.fixture
def crew_folder(tmp_path):
    """A folder begun from a crew's list that names no unit, nothing answered yet."""
    from siteplan.cli.main import main

    path = tmp_path / "crew.csv"
    path.write_text(
        "".join(f"{k},{n},{e},{z},{note}\n" for k, (n, e, z, note) in enumerate(_CREW, 1)), encoding="utf-8"
    )
    assert main(["new", str(tmp_path / "site"), "--points", str(path)]) == 0
    return tmp_path / "site"


def test_shots_are_drawn_as_soon_as_their_questions_are_answered(crew_folder, at_table):
    one, _ = at_table(crew_folder)
    page = one.page
    page.locator("#u-length").select_option("us-ft")
    page.locator("#u-crs").fill("EPSG:2272")
    page.get_by_role("button", name="Begin").click()
    one.saved()
    page.locator(".sym.height").nth(len(_CREW) - 1).wait_for(state="attached", timeout=5000)
    places = [[e, n] for n, e, _, _ in _CREW]
    assert _seen(page, places)
    page.mouse.move(*one.at(1210045, 205070))
    page.mouse.wheel(0, -4000)
    page.wait_for_timeout(60)
    assert not _seen(page, places)
    page.locator("#fit").click()
    page.wait_for_timeout(60)
    assert _seen(page, places)
    # a thing drawn among them keeps them in sight
    page.keyboard.press("p")
    page.keyboard.type("1210025, 205055")
    page.keyboard.press("Enter")
    one.saved()
    page.locator("#fit").click()
    page.wait_for_timeout(60)
    assert _seen(page, places)


def test_corners_that_the_crew_named_are_drawn_when_a_person_says_so(crew_folder, at_table):
    one, _ = at_table(crew_folder)
    page = one.page
    page.locator("#u-length").select_option("us-ft")
    page.get_by_role("button", name="Begin").click()
    one.saved()
    page.locator("#confirm").wait_for()
    told = page.locator("#panel").inner_text()
    assert "90.00 ft, 140.00 ft, 90.00 ft, 140.00 ft" in told
    assert "by shots 1, 2, 3, 4" in told
    assert "Are they the lot?" in told
    assert json.loads((crew_folder / "features.geojson").read_text())["features"] == []
    page.locator("#confirm").click()
    one.saved()
    (lot,) = json.loads((crew_folder / "features.geojson").read_text())["features"]
    assert (lot["properties"]["kind"], lot["geometry"]["coordinates"][0][0]) == ("lot", [1210000, 205000])
    page.wait_for_timeout(60)
    assert page.locator("#confirm").count() == 0
    page.locator("#undo").click()
    one.saved()
    assert json.loads((crew_folder / "features.geojson").read_text())["features"] == []


def test_the_view_goes_to_what_is_typed(tmp_path, at_table):
    """A lot typed in coordinates of a state's plane, far from where an empty page looks.

    Is on the screen from its first corner.
    """
    one, _ = at_table(hands.starter(tmp_path / "new"))
    page = one.page
    _begin(one)
    one.key("l")
    one.type("1210000, 205000")
    assert _seen(page, [[1210000, 205000]])
    one.type("E90 N1400 W90")
    assert _seen(page, [[1210000, 205000], [1210090, 206400]])
    one.type("")
    one.saved()
    one.key("Escape")
    one.key("h")
    one.type("1212000, 205000, 98.4 gutter")
    one.saved()
    assert _seen(page, [[1212000, 205000]])


@pytest.mark.parametrize("sample", ["alder-court", "long-meadow"])
def test_what_a_source_has_to_spare_is_said_once_and_stands_clear(tmp_path, at_table, sample):
    """On the drawing as in the panel, in the same form; and off the lines that are drawn, as far as there is room."""
    one, _ = at_table(_copy(tmp_path, sample))
    page = one.page
    pairs = one.answered()["pairs"]
    page.wait_for_timeout(150)
    marks = page.locator(".label.spare").all_text_contents()
    told = page.locator("#panel").inner_text()
    best = {}
    for pair in pairs:
        if pair["spare"] is not None and pair["spare"] >= best.get(pair["source"], (-1e9,))[0]:
            best[pair["source"]] = (pair["spare"], pair["spare_mark"])
    assert sorted(marks) == sorted(mark for _, mark in best.values())
    assert all(mark in told for mark in marks)
    unit = 0.001 if one.held()["settings"]["length_unit"] == "m" else 0.0254
    for spare, mark in best.values():
        assert float(mark.replace("\u2212", "-").split()[0]) == pytest.approx(spare / unit, abs=0.051)
    # points every 2 px along each line that is drawn, against the boxes of the texts
    on_lines = page.evaluate(
        """() => { const texts = [...document.querySelectorAll('.label.spare')].map((t) => t.getBBox()), bad = [];
        for (const p of document.querySelectorAll('path.way, path.lot, path.building, path.driveway, path.utility, path.curb')) {
          const far = p.getTotalLength();
          for (let d = 0; d < far; d += 2) { const q = p.getPointAtLength(d);
            texts.forEach((b, k) => { if (q.x > b.x && q.x < b.x + b.width && q.y > b.y && q.y < b.y + b.height) bad.push(k); }); } }
        return [...new Set(bad)].length; }"""
    )
    assert on_lines == 0
