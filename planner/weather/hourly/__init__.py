"""A table in its own words as whole hours, UTC, in the planner's units."""
