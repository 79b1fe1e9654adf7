"""One small module a command."""
