"""What a choice for a part is made of: stock, what fits, forecasts, what to bore or to buy."""
