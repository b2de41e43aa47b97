"""The floor from above: shapes, labels and what moves."""
