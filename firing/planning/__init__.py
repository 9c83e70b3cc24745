"""Pure planning: what lies where on a shelf, and when a kiln is free."""
