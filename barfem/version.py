"""The version, in a module of its own so that packages may name it without importing the public API above them."""

__version__ = "0.2.0"
