"""The plan made of windows, sheets and limits."""
