"""The blueprints, used as a house uses them."""
