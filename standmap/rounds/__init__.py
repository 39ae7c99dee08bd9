"""A day's walk: what walking from place to place costs, in which order to go, and how sure one may be of it.

Everything here is pure: positions are metres in the stand's working frame, nothing is read or written.
`problem` says what is asked, `solve.plan` answers with a `round.Round`; `closed` and `trips` are the two
engines under it and take a matrix of costs, so that published instances run through the same code.
"""
