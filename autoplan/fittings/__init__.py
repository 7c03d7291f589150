"""What may stand on a line, one kind a module: its parts, joints, lengths, resistance, rating and words."""
