"""Her spreadsheets: a stash, a price list, a list of orders; previewed row by row, and out again.

A preview holds every row with what is wrong with it. Nothing is taken over while a row has a
problem, unless she says that such rows are to be left out.
"""
