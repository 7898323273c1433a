"""The cloth that there is, how it is cut, and how much of it a layout takes."""
