"""What the payload itself wrote down, found again with it."""
