"""Rules of what is pumped."""
