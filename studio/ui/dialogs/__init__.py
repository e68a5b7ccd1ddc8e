"""Dialogs: a small reusable set (form, choose, words), and what is asked with them."""
