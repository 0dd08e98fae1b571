"""A firm's own stress-life line, fitted to its tests."""
