"""What the finished picture tells: its fabrics, which pieces are alike, and which lies over which."""
