"""A file becomes tables of text: CSV, XLSX, Parquet; its headings tell which table it is."""
