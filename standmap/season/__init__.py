"""When: warmth until leaf-out, how warm the soil is, the first and the last day on which tapping makes sense."""
