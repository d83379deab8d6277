"""What is done with shops in a database: moving them, their files, who is let in, all branches at once."""
