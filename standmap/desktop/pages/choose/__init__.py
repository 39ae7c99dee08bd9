"""The page on which trees are chosen: who may give, who rests, who is marked."""
