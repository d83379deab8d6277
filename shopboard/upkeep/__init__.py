"""The commands that look after a shop: backup and restore, PINs, the whole history."""
