"""The faces: what people and programs read."""
