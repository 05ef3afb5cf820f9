"""A stored plan in; its set of sheets as one PDF out: text pages, plan, profiles, numbered over all."""
