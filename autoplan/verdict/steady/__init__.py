"""Flow that no longer changes: the network solved, and what it tells."""
