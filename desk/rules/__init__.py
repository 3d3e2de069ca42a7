"""Rules that join rooms: pure functions."""
