"""What each command does once its options are read; loaded only when it is asked for."""
