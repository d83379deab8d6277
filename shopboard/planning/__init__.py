"""When things can happen: the shop's working time, and what is still ahead of a job."""
