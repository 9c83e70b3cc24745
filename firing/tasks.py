"""Background work of the firing app: handlers that the worker calls by name."""
