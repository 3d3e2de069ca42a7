"""Pages of the front desk: what selectors read, as words, links and buttons. Nothing here queries or writes."""
