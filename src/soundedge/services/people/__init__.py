"""Who may open the bench: accounts, passwords, the certificate of the machine, and how it is served."""
