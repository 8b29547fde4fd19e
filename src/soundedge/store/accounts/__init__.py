"""Who may open the bench: shops, accounts, devices, one-time codes. A Django app; it holds no word of any job."""
