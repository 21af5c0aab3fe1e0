"""How fast and how large: ``python -m benchmarks``."""
