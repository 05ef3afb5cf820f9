"""The quantities of a plan against a take-off done by hand from a drawn line and the ground over it.

Each sum shown in docs/quantities.md.
"""

import json

import pytest

# 4 in SDR 35 (ASTM D3034): 4.215 in = 0.107061 m outside, wall 0.120 in = 0.003048 m. Trench 12 in = 0.3048 m wide, bed
# 0.25 ft = 0.0762 m.
# Ground 100.96 m above the upper end and 100.12 m above the lower one, 42 m apart, straight between; inverts 100.20 and
# 99.30.
TAKEN = {
    ("pipe", "pvc_sdr35 4 in"): 42.010,  # 42 x sqrt(1 + (0.90 / 42)^2) = 42.00964
    ("sticks", "pvc_sdr35 4 in"): 14,  # 42.00964 / 3.048 = 13.78
    ("tie_in", "4 in"): 1,
    # cuts: 100.96 - 100.20 + 0.003048 + 0.0762 = 0.839248; 100.12 - 99.30 + 0.079248 = 0.899248; mean 0.869248
    ("excavation", ""): 11.128,  # 0.869248 x 42 x 0.3048 = 11.12777
    ("bedding", ""): 0.975,  # 0.3048 x 0.0762 x 42 = 0.97548
    # pipe: 0.785398 x 0.107061^2 x 42 = 0.37809
    ("spoil", ""): 1.354,  # 0.97548 + 0.37809 = 1.35357
    ("backfill", ""): 9.774,  # 11.12777 - 1.35357 = 9.77420
    ("lawn", ""): 12.802,  # 42 x 0.3048 = 12.8016
}


def test_a_plan_takes_what_was_taken_off_by_hand(tmp_path, plan_once, even_ground):
    made = plan_once(
        even_ground.site_folder(
            tmp_path / "site",
            [
                even_ground.point("downspout", "DS", 48.0, 12.0, roof_area=40.0),
                even_ground.point("tie_in", "Old", 6.0, 12.0, invert=99.2, diameter_mm=150, takes_lps=10),
                even_ground.drain([(48.0, 12.0), (6.0, 12.0)], start="DS", end="Old", inverts=[100.2, 99.3]),
            ],
        )
    )
    record = json.loads((made.folder / "plan.json").read_text("utf-8"))
    found = {(one["what"], one["kind"]): one["amount"] for one in record["quantities"]}
    assert found.keys() - TAKEN.keys() == {("cleanout", "4 in")}
    for key, amount in TAKEN.items():
        assert found[key] == pytest.approx(amount, abs=0.0015), key
