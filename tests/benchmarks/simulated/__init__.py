"""What the benchmark `simulation` is made of: a ledger written for real, the service measured, a simulated clock."""
