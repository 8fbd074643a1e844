"""What a study of the way of measuring is made of: its model and its plan."""
