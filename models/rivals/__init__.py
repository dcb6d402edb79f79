"""The general-purpose forecasters that the wear model must beat, behind the same interface."""
