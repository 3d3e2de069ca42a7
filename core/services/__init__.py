"""State changes of core's own rows: who gets in, and how."""
