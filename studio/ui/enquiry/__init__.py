"""The screen of an enquiry: what taking a piece would mean, tried with nothing changed."""
