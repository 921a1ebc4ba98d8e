"""How the shop is reached: the server process, the data folder and its lock, the SQLite library."""
