"""The jobs without a screen. Rooms are imported only by the command that needs them."""
