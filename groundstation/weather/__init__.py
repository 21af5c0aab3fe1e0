"""What the estimate may be given beside the fixes: winds aloft, and the height of the ground."""
