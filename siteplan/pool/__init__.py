"""Many pieces of work of one kind, done by processes of this machine or by a cluster.

What each gives comes back as it is done.
"""
