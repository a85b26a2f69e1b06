"""The weather formats the planner knows, and how a file is told by its content."""
