"""What a raw message looks like: guesses that are held by reading it with them."""
