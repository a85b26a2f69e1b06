"""The sheet: sizes, the force of wind on it, temperature, slack and tension."""
