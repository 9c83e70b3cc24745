"""Sections that the firing app adds to the studio's pages."""
