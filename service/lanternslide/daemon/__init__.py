"""The main loop: pictures in hand from stage to stage, fair turns, what is planned, delivered and told."""
