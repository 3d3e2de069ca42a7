"""Instruments as pages show them: rows and rules' answers turned into words and links. Nothing here queries or writes."""
