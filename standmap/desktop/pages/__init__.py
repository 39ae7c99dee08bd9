"""The four pages, in the order of the job, and the start."""
