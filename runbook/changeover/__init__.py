"""How one floor becomes the next: steps, their order, and the checks on the way."""
