"""Rules of air."""
