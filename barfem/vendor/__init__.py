"""Making and receiving: what goes to the bender, as numbers without ink, and what comes back."""
