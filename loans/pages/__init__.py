"""Loans as pages show them. Nothing here queries or writes."""
