"""A laid line in; its reaches of pipe, sleeves, the weak ground under it, and what it will do there, out."""
