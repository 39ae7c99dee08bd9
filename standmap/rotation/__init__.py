"""Which trees in which of the coming seasons, so that the stand lasts."""
