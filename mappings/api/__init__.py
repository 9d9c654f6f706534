"""The REST API: views parse, call one service, answer."""
