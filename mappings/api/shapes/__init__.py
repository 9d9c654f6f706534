"""The JSON answers of the API: one model a kind of row, and the function that fills it."""
