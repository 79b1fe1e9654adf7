"""The main loop, the pool of workers, publishing, recovery. Only here are processes and signals known."""
