"""What lines enclose and what is done with areas: loops, holes, unions, cuts and margins."""
