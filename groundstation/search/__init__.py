"""The search for a payload that is down: where it may lie, and where to look next."""
