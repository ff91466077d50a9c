"""What is started by hand: the demo's house."""
