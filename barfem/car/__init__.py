"""The bar in the car: statics, balance of hole pairs, links."""
