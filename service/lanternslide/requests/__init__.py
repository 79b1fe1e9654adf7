"""What an owner asks a running service for: taking back, trying again, making again."""
