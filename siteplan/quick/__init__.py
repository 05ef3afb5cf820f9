"""Two shots in; is there fall, out: standard library only."""
