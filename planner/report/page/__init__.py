"""The page for the yard."""
