"""The live page and the HTTP interface."""
