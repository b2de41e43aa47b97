"""What really happened on the day, in order, never rewritten."""
