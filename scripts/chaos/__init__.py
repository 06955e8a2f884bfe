"""Kills every process of the program again and again while messages go out, and counts afterwards: `make chaos`.

The mail server's own mailbox is the witness: what it holds is compared with what the table says.
"""
