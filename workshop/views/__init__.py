"""Pages of the shop's registers, one module a register. Addresses: ``workshop.urls_shop``."""
