"""Ground and features in; out: where a line can arrive, which way is cheapest, straight runs a crew can build."""
