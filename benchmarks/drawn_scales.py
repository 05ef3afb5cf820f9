"""Ten lots on four papers: the scale measured on the PDF in plan and profile, labels over one another, type cut off.

    python benchmarks/drawn_scales.py [FOLDER]

Lots: four samples and six invented ones in metres, feet and survey feet. FOLDER keeps the plans for the next run. Ends
with 1 where a length is off by more than 0.5 % or a label lies over another.
"""

from __future__ import annotations

import contextlib
import io
import json
import sys
import tempfile
from pathlib import Path

HERE = Path(__file__).resolve().parents[1]
sys.path[:0] = [str(HERE), str(HERE / "tests" / "referees"), str(HERE / "tests" / "doors")]

from random_lots import lot  # noqa: E402
from sheet_labels import font_widths, measured  # noqa: E402
from sheet_scales import PAPERS, scale_errors  # noqa: E402

from siteplan.cli.main import main  # noqa: E402

SAMPLES = ("alder-court", "marsh-lane", "kiln-rise", "quince-terrace")
SEEDS = (0, 1, 2, 4, 7, 11)  # metres at 0 and 4


def quietly(*words: str) -> int:
    with contextlib.redirect_stdout(io.StringIO()):
        return main(list(words))


def planned(base: Path, name: str) -> Path:
    folder = base / name
    if not (folder / "plan.json").exists():
        site = HERE / "sample_sites" / name
        if name.startswith("lot-"):
            site = lot(base / f"{name}-site", int(name.removeprefix("lot-")))
        quietly("plan", str(site), "--out", str(folder), "--layouts", "1")
    return folder


def run(base: Path) -> int:
    widths, bad, worst = font_widths(), 0, 0.0
    print("lot              unit  paper    plan lines  worst %  profiles  worst %  labels")
    for name in (*SAMPLES, *(f"lot-{seed}" for seed in SEEDS)):
        folder = planned(base, name)
        plan = json.loads((folder / "plan.json").read_text(encoding="utf-8"))
        for paper in PAPERS:
            out = base / "set.pdf"
            quietly("sheets", str(folder), "--out", str(out), "--paper", paper, "--parts", "plan,profiles")
            errors = scale_errors(out, plan, paper)
            kinds = {
                kind: [100 * v for key, v in errors.items() if key.startswith(kind)] for kind in ("plan", "profile")
            }
            try:
                measured(folder, widths, paper=paper)
                labels = "clear"
            except AssertionError as fault:
                labels = f"FAULT {fault}".splitlines()[0][:110]
            top = max(errors.values(), default=0.0)
            worst = max(worst, top)
            bad += top > 0.005 or labels != "clear"
            told = "  ".join(f"{len(held):>8}  {max(held, default=0.0):>7.3f}" for held in kinds.values())
            print(f"{name:<16} {plan['site']['length_unit']:<5} {paper:<7} {told}  {labels}", flush=True)
    print(f"\nworst scale error {100 * worst:.3f} %; {bad} sheets sets with a fault")
    return int(bad > 0)


if __name__ == "__main__":
    if len(sys.argv) > 1:
        Path(sys.argv[1]).mkdir(parents=True, exist_ok=True)
        sys.exit(run(Path(sys.argv[1])))
    with tempfile.TemporaryDirectory() as place:
        sys.exit(run(Path(place)))
