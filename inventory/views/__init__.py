"""Pages of the instruments, one module a topic."""
