"""Rules between the parts of a framework, one object each: figure, price, solver row, check and source in one entry."""
