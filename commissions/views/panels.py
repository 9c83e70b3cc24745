"""Sections that the commissions app adds to the studio's pages."""
