"""Stripewright: plan, cost and make striped crochet blankets."""

__version__ = "0.1.0"
