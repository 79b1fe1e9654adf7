"""The config that a photographer begins with."""
