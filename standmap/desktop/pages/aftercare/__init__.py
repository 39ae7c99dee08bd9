"""The page of what each wound needs next."""
