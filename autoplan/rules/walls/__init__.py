"""Rules of holes and what sits in them."""
