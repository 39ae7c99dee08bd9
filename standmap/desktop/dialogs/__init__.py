"""Dialogs: things looked at now and then."""
