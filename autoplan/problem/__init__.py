"""What the builder has and wants: TOML in, a frozen Site out."""
