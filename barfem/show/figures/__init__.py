"""The figures: one concept a file, one look (`style`), each drawn from a `FigureData`. matplotlib without pyplot."""
