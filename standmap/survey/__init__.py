"""Positions: the working frame of a stand, checks on what comes in, and the stops of a GPS walk."""
