"""What changes rows: keyword-only functions, the actor first, one transaction and one audit row each."""
