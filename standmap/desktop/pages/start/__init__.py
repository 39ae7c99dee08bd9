"""What is shown while no stand is open."""
