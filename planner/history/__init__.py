"""What past weather and past forecasts say: seasons, replays, scores."""
