"""Readings against a plan."""
