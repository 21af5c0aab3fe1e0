"""After the flight: the logbook, exports, and the report."""
