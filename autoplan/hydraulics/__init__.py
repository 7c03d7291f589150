"""Pure hydraulics on SI floats, over `fluids`. No files, no solver."""
