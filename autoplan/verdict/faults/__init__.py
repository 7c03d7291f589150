"""What goes wrong, and what then."""
