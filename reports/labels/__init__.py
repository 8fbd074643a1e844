"""Labels for tubes and drawers: a QR code, the code to read, size, place and rating; and what to engrave."""
