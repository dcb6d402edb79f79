"""The sections of the page of an opening: as found, findings, scope, as left, papers, what it taught."""
