"""Rules of where water stands and how it drains."""
