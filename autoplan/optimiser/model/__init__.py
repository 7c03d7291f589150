"""The choice as data: variables, rows, goal."""
