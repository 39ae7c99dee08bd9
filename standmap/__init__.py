"""Know every tree of a stand, choose which may give sap, collect it in one short walk."""

__version__ = "0.1.0"
