"""What pages for people are made of."""
