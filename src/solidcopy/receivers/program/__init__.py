"""Any outside program as a receiver under test."""
