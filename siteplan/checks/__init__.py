"""Plan and Site as surveyed in; findings out, by arithmetic of their own."""
