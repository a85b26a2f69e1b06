"""Where job and weather meet: limits, conditions, windows."""
