"""The command line: the only place that prints and exits; one small module a command."""
