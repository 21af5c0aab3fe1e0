"""Ways to write a simulated flight down, each as a receiver or a tracker would."""
