"""The worked day of practice: a plan folder made by hand from its level notes, for tests of the field."""

from __future__ import annotations

import json
from pathlib import Path

FOOT = 0.3048
STATIONS = (0, 10, 20, 30, 40, 50, 60, 70, 84)
GROUND = (97.12, 97.55, 98.02, 98.45, 98.70, 98.85, 98.95, 99.08, 99.26)
INVERT, GRADE = 96.66, 0.0125
RISE, BELOW = (4.215 + 3.975) / 24, 0.120 / 12 + 0.25  # ft: top over invert, trench bottom under it


def plan_folder(folder: Path, *, fittings: dict[int, list[tuple[str, float | None]]] | None = None) -> Path:
    """plan.json of the day sheet's line: outlet at N 5000, running north."""
    folder.mkdir(parents=True)
    inverts = [INVERT + GRADE * s for s in STATIONS]

    def metres(value: float) -> float:
        return round(value * FOOT, 6)

    rows = [
        {
            "station": metres(s),
            "x": metres(2000),
            "y": metres(5000 + s),
            "ground": metres(g),
            "invert": metres(z),
            "cut": metres(g - z + BELOW),
            "cover": metres(g - z - RISE),
            "grade_percent": GRADE * 100,
            "note": "",
        }
        for s, g, z in zip(STATIONS, GROUND, inverts, strict=True)
    ]
    vertices = [
        {
            "x": row["x"],
            "y": row["y"],
            "station": row["station"],
            "invert": row["invert"],
            "ground": row["ground"],
            "bend_deg": 0.0,
            "fittings": [{"kind": kind, "angle_deg": angle} for kind, angle in (fittings or {}).get(s, ())],
        }
        for s, row in zip(STATIONS, rows, strict=True)
        if s in {0, 84} or s in (fittings or {})
    ]
    pipe = {
        "kind": "pvc_sdr35",
        "nominal": "4 in",
        "od_m": round(4.215 * 0.0254, 6),
        "id_m": round(3.975 * 0.0254, 6),
        "wall_m": round(0.12 * 0.0254, 6),
    }
    record = {
        "format": "siteplan-plan",
        "version": 1,
        "site": {
            "name": "Day sheet",
            "crs": "local",
            "unit": "m",
            "length_unit": "ft",
            "elevation_unit": "ft",
            "accuracy": 0.006,
            "stamp": None,
            "inputs": [],
        },
        "rules": [
            {"id": "min-grade", "limit": 1.0, "unit": "percent"},
            {"id": "min-cover", "limit": 0.3048, "unit": "m"},
            {"id": "bedding", "limit": 0.0762, "unit": "m"},
            {"id": "curb-allowance", "limit": round(0.04 * FOOT, 6), "unit": "m"},
        ],
        "sources": [
            {
                "id": "S1",
                "kind": "downspout",
                "name": "DS1",
                "x": metres(2000),
                "y": metres(5084),
                "flow_lps": None,
                "ground": metres(99.26),
            }
        ],
        "outlets": [
            {
                "id": "O1",
                "kind": "curb_outlet",
                "name": "Curb",
                "x": metres(2000),
                "y": metres(5000),
                "invert": None,
                "control": metres(96.66),
                "ground": metres(97.12),
                "basis": "the gutter flow line and an allowance above it",
            }
        ],
        "lines": [
            {
                "id": "L1",
                "sources": ["S1"],
                "from": "S1",
                "to": "O1",
                "pipe": pipe,
                "vertices": vertices,
                "stations": rows,
                "crossings": [],
                "low_spots": [],
                "length": metres(84),
                "spare": 0.1,
                "binding": "",
                "cost": 1.0,
            }
        ],
        "low_spots": [],
        "candidates": [],
        "checks": [],
        "assumptions": [],
        "cautions": [],
    }
    (folder / "plan.json").write_text(json.dumps(record), encoding="utf-8")
    return folder
