"""The sections that pages are put together from."""
