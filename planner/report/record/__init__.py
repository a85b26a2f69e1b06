"""The JSON contracts."""
