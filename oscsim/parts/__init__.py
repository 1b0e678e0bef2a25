"""What each part of the movement is and does, in trade terms and bench units at the edge."""
