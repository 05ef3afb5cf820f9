"""Many lots planned by one command: every site below a folder, what became of each, and two such runs side by side."""
