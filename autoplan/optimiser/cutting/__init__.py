"""Pieces on sticks."""
