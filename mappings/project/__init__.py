"""How the service is put together: settings, addresses, the WSGI entry."""
