"""Bytes to reports, without I/O."""
