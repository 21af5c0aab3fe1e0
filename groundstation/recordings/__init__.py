"""Readers of recordings, one form a file; ``recordings.detection`` picks the right one."""
