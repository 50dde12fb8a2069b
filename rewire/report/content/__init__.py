"""What stands on a sheet, as plain records that the PDF and the page both print."""
