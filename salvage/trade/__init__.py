"""Facts of the trade with their sources: cloth kinds, cautions, allowances, paper sizes."""
