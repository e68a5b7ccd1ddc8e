"""The screen of her trade: prices, hours, parcels and customers, each changed in a form."""
