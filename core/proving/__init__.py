"""What a proof is made of: lines told apart, orientation read, files measured again."""
