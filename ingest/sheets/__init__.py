"""A file becomes cells of text: CSV, XLSX, Parquet; what harms is refused, what is doubtful is marked."""
