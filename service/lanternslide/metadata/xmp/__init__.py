"""XMP: its namespaces and spelling, its packets, and its tree."""
