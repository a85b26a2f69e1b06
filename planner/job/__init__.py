"""The job file: house, place, film, crew, limits and steps."""
