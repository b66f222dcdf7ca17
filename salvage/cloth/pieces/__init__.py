"""How the cloth falls into pieces; their names, grain and fabric."""
