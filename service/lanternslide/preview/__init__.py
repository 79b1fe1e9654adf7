"""What would be done, or is to be looked at, before anything is: trace, check, ring-around, a first config."""
