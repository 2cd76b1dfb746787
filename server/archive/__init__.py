"""The archive of many sites, on PostgreSQL: who may use it, how a site forwards to it, how it is read."""
