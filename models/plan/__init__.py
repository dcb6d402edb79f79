"""Windows and scope as a mixed-integer programme; risk, reasons, what-if."""
