"""Papers that leave the house: one model of what a customer may see, and four ways to print it."""
