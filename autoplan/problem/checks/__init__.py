"""What must be true of a layout before anyone designs for it. Every check yields `Mistake`s."""
