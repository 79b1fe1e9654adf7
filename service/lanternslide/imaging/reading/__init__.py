"""Reading originals: which reader takes which file, and the shape in which it hands out pixels."""
