"""Reads of loans, one module a topic."""
