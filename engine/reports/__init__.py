"""What the program tells that is gathered from several rooms: each report made once, for every face to lay out."""
