"""Choosing: the only package that imports ortools."""
