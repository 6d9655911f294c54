"""Pictures of the data and of an order, from the core that all numbers come from; matplotlib loads on first use."""
