"""What lies under the map: a picture of the ground, or a terrain as hill shade."""
