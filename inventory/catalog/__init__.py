"""The trade catalog: what kinds are made of, what goes wrong with them and what puts it right."""
