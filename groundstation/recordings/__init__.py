"""Readers of recordings, one form a file; ``recordings.read_any`` picks the right one."""
