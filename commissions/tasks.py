"""Background work of the commissions app: handlers that the worker calls by name."""
