"""The invented studios that fill a new database; nobody and nothing in them is real."""
