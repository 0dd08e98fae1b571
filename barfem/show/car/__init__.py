"""The bar in the car, shown: tables, the map of hole pairs, the set-up sheet."""
