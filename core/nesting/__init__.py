"""The engine that lays irregular parts on rectangles: geometry in, placements out; knows no cloth."""
