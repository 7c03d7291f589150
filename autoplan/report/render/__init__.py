"""Blocks as text: on a terminal through rich, plain anywhere else."""
