"""What changes at a place: its history, signs of a change, what lies ahead, what replacing costs."""
