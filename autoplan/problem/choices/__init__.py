"""What a problem may leave to the program, and every way to choose it: which vessel, how often beds flood."""
