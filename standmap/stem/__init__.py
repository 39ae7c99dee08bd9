"""The stem as a cylinder: what old holes left in it, and where the next one has most room."""
