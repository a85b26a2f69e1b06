"""How far forecasts miss, and possible weathers drawn from it."""
