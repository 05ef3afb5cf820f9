"""The workbook of a plan opened, recalculated and saved by an office suite without its window.

What it finds held against our own figures.

    python benchmarks/workbook_recalculated.py PLAN_DIR [PLAN_DIR ...]

Today's height of instrument is typed into its cell (by writing the cell into the file), every price cell is given a
price of its own, `soffice` converts the book to one CSV a sheet, and rods, costs and their sum are read from there.
Rods are held against `siteplan cutsheet --json`, costs against amounts of quantities.csv times the price typed.
LibreOffice 7.4 (Debian 12) was used; nothing of it is needed to run the product.
"""

from __future__ import annotations

import csv
import io
import json
import re
import subprocess
import sys
import tempfile
import zipfile
from contextlib import redirect_stdout
from pathlib import Path

from siteplan.cli.main import main

_EVERY_SHEET = "csv:Text - txt - csv (StarCalc):44,34,76,1,,0,false,true,false,false,false,-1"


def printed(*command: str) -> str:
    said = io.StringIO()
    with redirect_stdout(said):
        main(list(command))
    return said.getvalue()


def typed_into(file: Path, hi: float, prices: dict[str, float]) -> None:
    """Cells written as a person would type them: B3 of the first sheet, prices of the second."""
    with zipfile.ZipFile(file) as book:
        held = {one: book.read(one) for one in book.namelist()}
    first, second = "xl/worksheets/sheet1.xml", "xl/worksheets/sheet2.xml"
    held[first] = re.sub(rb'<c r="B3"( s="\d+")/>', rb'<c r="B3"\1><v>%s</v></c>' % str(hi).encode(), held[first])
    for cell, price in prices.items():
        value = rb'<c r="%s"\1><v>%s</v></c>' % (cell.encode(), str(price).encode())
        held[second] = re.sub(rb'<c r="%s"( s="\d+")(?:/>|><v>[^<]*</v></c>)' % cell.encode(), value, held[second])
    for name in (first, second):  # no stored result is left to be read instead of a worked one
        held[name] = re.sub(rb"(</f>)<v>[^<]*</v>", rb"\1", held[name])
    with zipfile.ZipFile(file, "w", zipfile.ZIP_DEFLATED) as book:
        for name, content in held.items():
            book.writestr(name, content)


def sheets_of(file: Path, folder: Path) -> dict[str, list[list[str]]]:
    profile = f"-env:UserInstallation=file://{folder}/profile"
    done = ["soffice", profile, "--headless", "--convert-to", _EVERY_SHEET, "--outdir", str(folder), str(file)]
    subprocess.run(done, check=True, capture_output=True, timeout=180)
    return {
        one.stem.removeprefix(f"{file.stem}-"): list(csv.reader(one.open(encoding="utf-8")))
        for one in sorted(folder.glob("*.csv"))
    }


def compared(plan_folder: Path) -> tuple[int, int]:
    """How many figures were compared, and how many differ."""
    plan = json.loads((plan_folder / "plan.json").read_text("utf-8"))
    unit = plan["site"]["length_unit"]
    metre = {"m": 1.0, "ft": 0.3048, "us-ft": 1200 / 3937}[plan["site"]["elevation_unit"]]
    levels = [row["invert"] / metre for line in plan["lines"] for row in line["stations"]]
    hi = round(sum(levels) / len(levels) + (1.5 if unit == "m" else 5.0), 2)
    sheet = json.loads(printed("cutsheet", str(plan_folder), "--hi", str(hi), "--json"))
    takes = list(csv.DictReader((plan_folder / "quantities.csv").open(encoding="utf-8-sig")))
    prices = {f"E{row}": round(1.37 * row + 0.05, 2) for row in range(4, 4 + len(takes))}
    with tempfile.TemporaryDirectory() as name:
        file = Path(name) / "book.xlsx"
        printed("export", str(plan_folder), "--to", "xlsx", "--out", str(file))
        typed_into(file, hi, prices)
        pages = sheets_of(file, Path(name))
    pairs: list[tuple[float, str]] = []
    rows = pages["Cut sheet"][6:]
    targets = [one for line in sheet["lines"] for one in line["targets"]]
    for row, target in zip(rows, targets, strict=True):
        told = target["printed"]
        pairs += [(float(row[10]), told["rod_bottom"]), (float(row[11]), told["rod_top"]), (float(row[9]), told["cut"])]
    total = 0.0
    bought = pages["Quantities"][3:]
    for row, one, price in zip(bought, takes, prices.values(), strict=False):
        cost = round(float(one["amount"]) * price + 1e-9, 2)
        total += cost
        pairs.append((float(row[5]), f"{cost:.2f}"))
    pairs.append((float(bought[len(takes)][5]), f"{total:.2f}"))
    wrong = [pair for pair in pairs if abs(pair[0] - float(pair[1])) > 1e-6]
    for found, wanted in wrong[:10]:
        print(f"  the office suite finds {found}, we print {wanted}")
    return len(pairs), len(wrong)


if __name__ == "__main__":
    failed = 0
    for given in sys.argv[1:]:
        count, wrong = compared(Path(given))
        failed += wrong
        print(f"{Path(given).name}: {count} figures, {wrong} differ")
    sys.exit(1 if failed else 0)
