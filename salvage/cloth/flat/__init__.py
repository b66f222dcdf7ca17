"""The photograph laid flat, and what can be asked of it: lines, areas, colours, prints, the network's chances."""
