"""Bytes in: one module a kind of source, and the supervisor that keeps them alive."""
