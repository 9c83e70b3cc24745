"""The invented studios that a new database is filled with; nobody and nothing is real."""
