"""Ways to build each class of runs, as far as the rules allow them."""
