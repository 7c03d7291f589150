"""A line: a pipe and a row of fittings; what joins what, how long each piece is, what the joints take."""
