"""Constants with their sources."""
