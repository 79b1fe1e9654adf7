"""Whether a ledger can be trusted, a copy of it, and a way back where it cannot."""
