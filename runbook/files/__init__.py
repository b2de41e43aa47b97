"""A day's files: read, checked, inherited, edited and written."""
