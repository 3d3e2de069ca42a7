"""Forms of the instruments, one module a topic."""
