"""What every section stands in: data, tables, words, style, rendering."""
