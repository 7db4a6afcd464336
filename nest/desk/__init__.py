"""The desk: a saved plan in a browser on this machine, to be changed by hand.

A page served on the loopback address alone (`nest.desk.serve`). What is done there is a step of `nest.edits`, judged at
once and kept in a journal beside the plan; searches run in a process of their own.
"""
