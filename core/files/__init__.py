"""What files carry, whatever their format: names, lines, origin, limits, and the model as plain data."""
