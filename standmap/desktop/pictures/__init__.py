"""The map as a picture on paper or in a file, at a true scale."""
