"""Places and areas from GeoJSON files, and what of them is near."""
