"""What is wrong in a config, and how to write it."""
