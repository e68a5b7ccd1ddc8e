"""Buying in bulk: offers, the cheapest purchase, staples, and what comes in the parcel."""
