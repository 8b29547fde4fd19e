"""A job folder: the sheet, the tables and files it names, and the run from folder to certificate."""
