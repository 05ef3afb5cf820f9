"""A stored plan in; files for drawing offices, maps, instruments and spreadsheets out, in the survey's own system and unit."""
