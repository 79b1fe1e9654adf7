"""What stands where in a file: segments, chunks, packets, image resources, and what lies beside the picture."""
