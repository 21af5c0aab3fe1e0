"""Outbox, delivery and the words of a message."""
