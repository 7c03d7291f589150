"""The build sheet: one HTML page, complete in itself, made from an answer's JSON and nothing else."""
