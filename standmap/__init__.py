"""Know every tree of a stand, choose which may give sap, collect it in one short walk."""

import os

__version__ = "0.1.0"

# Our matrices are small: threads that wait for each other cost more than they help, tenfold on a busy machine. It must
# be said before numpy is loaded, and a person's own choice is kept.
os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")
