"""Ways in and out: people's spreadsheets into records, records into spreadsheets, calendars and a customer's own data.

A file is read as it is, its columns are guessed aloud and confirmed, and every row either becomes a record or stands in
a file of rejects with its reason. An import is one change of the journal: all of it or nothing, and it can be undone.
"""
