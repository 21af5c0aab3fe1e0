"""An invented flight with its truth, and what a receiver on the ground would have heard of it."""
