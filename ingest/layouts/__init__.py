"""Cells to tables of text: under the headings in the first row, or through a layout (TOML) that says how."""
