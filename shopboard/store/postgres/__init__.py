"""A shop kept in a PostgreSQL database: the same journal, for several machines and branches.

Loaded only when a shop is named by an address, since it needs the extra `postgres`.
"""
