"""A design watched through hours."""
