"""TOML in and out; knows files and the core, never a screen."""
