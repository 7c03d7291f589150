"""How the short form's vessels may stand to each other: one file an arrangement."""
