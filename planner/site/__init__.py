"""The place: wind at the sheet, light, wetness, heat and cold."""
