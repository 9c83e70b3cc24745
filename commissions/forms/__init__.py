"""Forms of the commissions app: they check what was typed and act on nothing."""
