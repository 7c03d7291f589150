"""A problem file from a dozen questions."""
