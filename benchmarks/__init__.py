"""How fast and how large: ``python -m benchmarks``."""

import os

# As the command line does, and before numpy is imported.
os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")
