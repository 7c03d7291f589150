"""autoplan: designs the plumbing of a recirculating fish-and-plant system. The public door."""
