"""Any open weather file, read into one hourly table."""
