"""A ground station for one person's high-altitude balloon."""
