"""Pure functions on SI floats for water in pipes, drains, pumps and vessels.

Losses err high and capacities err low. Nothing here reads a file, knows a part or solves a design. Import the
module that is needed: `water`, `friction`, `fittings`, `line`, `gravity`, `pump`.
"""
