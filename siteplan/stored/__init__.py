"""plan.json in; the Plan that it states out: the mirror of what writes it."""
