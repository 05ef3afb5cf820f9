"""Plan in; plan.json, map.html, trench_schedule.csv out."""
