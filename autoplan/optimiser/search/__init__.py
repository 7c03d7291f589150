"""Solving, proving, ranking."""
