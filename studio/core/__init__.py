"""What the trade knows, computed: frozen values in, frozen answers out, no files, no screens."""
