"""Out again: what the station knows and hears, published to a broker."""
