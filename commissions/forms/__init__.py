"""Forms of the commissions app: they check what was typed and change nothing."""
