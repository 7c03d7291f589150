"""A drawn run put together piece by piece: what joins what, how long each piece is, what the joints take."""
