"""One stock and many orders over many days: a database in which every change is a row and nothing is overwritten.

`store.Ledger` is the door: `open_ledger` finds or makes it, `Ledger.booking` books, and the other modules say what.
"""
