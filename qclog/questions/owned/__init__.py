"""What is told of things owned: sizes, sets of sizes, prices, labels, what to order."""
