"""Pages of the front desk: what selectors read, turned into words, links and buttons. Nothing here queries or writes."""
