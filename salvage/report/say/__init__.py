"""What is said to a person: sentences, tables, tape distances. No drawing."""
