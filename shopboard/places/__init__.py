"""The places of the board: what each shows (pure line builders) and the Textual app around them."""
