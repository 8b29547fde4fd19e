"""The same services from a terminal."""
