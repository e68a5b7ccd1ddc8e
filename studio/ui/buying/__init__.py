"""The screens of buying in bulk: what to buy, and what comes in the parcel."""
