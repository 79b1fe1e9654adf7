"""What an owner asks for, of a running service or without one: taking back, trying again, remaking; and recovery."""
