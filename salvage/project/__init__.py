"""The project file: panels, allowances, folds, strips, joins."""
