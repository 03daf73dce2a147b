"""Reading the files a maker writes, field by field, with every fault in them noted in one go."""
