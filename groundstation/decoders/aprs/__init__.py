"""APRS: the position formats of the APRS Protocol Reference 1.0.1 (29 August 2000)."""
