"""A weather file or answer as a table in its own words."""
