"""What is shown of the map when asked for: measures, where a point is, north and scale."""
