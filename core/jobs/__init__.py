"""Jobs: what is to be made for which machine, done apart from each other, and done again only when needed."""
