"""The map: its camera, the trees as dials, the ground under them, and how it is steered."""
