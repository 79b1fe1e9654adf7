"""What was made, measured and shown: likeness, edges, halos, details."""
