"""Pictures, SVG and PNG."""
