"""Rules of how parts and pieces join."""
