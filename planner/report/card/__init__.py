"""The crew card."""
