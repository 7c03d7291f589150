"""Rules of what is bought."""
