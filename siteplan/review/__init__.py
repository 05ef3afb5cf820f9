"""Somebody's plan and its site in; what does not hold, and what was taken on trust, out."""
