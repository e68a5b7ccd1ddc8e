"""The screen of the order book, with the calendar of handwork."""
