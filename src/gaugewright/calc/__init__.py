"""Numbers in, numbers out: circuits, bridges, gauges, leads, bars, steel, chain, uncertainty."""
