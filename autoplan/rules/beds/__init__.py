"""Rules of beds: siphons, floods, timers."""
