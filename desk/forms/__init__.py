"""Forms of the pages that join the apps below."""
