"""The folder that a ledger lies in: one service at a time, and why it cannot be used."""
