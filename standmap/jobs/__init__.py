"""One typed function for each thing a user does; the command line and the window call nothing else."""
