"""How much sap to expect, and what it weighs."""
