"""Tables in and out: the dialogs that take a spreadsheet in row by row, and write one."""
