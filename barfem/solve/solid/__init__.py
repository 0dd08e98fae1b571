"""The bar, or one bend of it, as a swept three-dimensional solid of quadratic hexahedra."""
