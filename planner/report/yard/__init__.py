"""What the crew must know besides: light, what stands, what to have ready, pulls, cautions."""
