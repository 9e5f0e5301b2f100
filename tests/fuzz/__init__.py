"""Broken, odd and hostile inputs by the thousand: see `__main__`."""
