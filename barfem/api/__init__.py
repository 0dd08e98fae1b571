"""What `import barfem` offers: the commands' own functions, with results that show themselves in a notebook.

Nothing is computed here. `bars` reads and changes bars, `checks` judges them, `records` makes flat rows for tables and
spreadsheets, `plots` holds a figure, `display` is what a notebook shows of each.
"""
