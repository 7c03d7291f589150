"""Judging a finished design on real numbers. Never imports ortools."""
