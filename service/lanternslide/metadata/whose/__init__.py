"""Whose picture it is: what an original says, and what the photographer says."""
