"""How the sample shop's records are made: its customers' words in, the shop's own rules run, a journal out."""
