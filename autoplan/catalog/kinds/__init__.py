"""The kinds of part that a price list may have, each with all that a row of its file says."""
