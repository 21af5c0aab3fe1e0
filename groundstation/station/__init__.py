"""The station that runs: its wiring, the life of a packet, and how it watches itself."""
