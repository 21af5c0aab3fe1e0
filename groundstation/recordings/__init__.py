"""Readers of recordings, one form a file; ``groundstation.recording`` picks the right one."""
