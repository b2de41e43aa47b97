"""What keeps a stand upright, and what must be bagged, tied, lowered or carried by two."""
