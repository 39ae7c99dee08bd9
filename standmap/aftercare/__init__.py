"""What each wound needs next, from the day it is made until a person has seen how it closes."""
