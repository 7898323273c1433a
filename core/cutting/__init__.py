"""The blade: in which order it cuts, where it comes down, how its tip trails, and how long that takes."""
