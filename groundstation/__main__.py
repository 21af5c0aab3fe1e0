"""``python -m groundstation``."""

from groundstation.cli import main

main()
