"""What may stand in a file of a problem, what stands in for it, and what a site has of it."""
