"""Showing an outcome: terminal, JSON, lists."""
