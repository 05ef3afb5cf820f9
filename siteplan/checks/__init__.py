"""Plan and the site as surveyed in; findings out, by arithmetic of its own that shares nothing with the planner."""
