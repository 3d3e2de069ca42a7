"""Repairs as pages and papers show them: plans, orders and answers turned into words. Nothing here queries or writes."""
