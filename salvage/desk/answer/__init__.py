"""The answer that the page shows: verdict, layout, what is missing, at once after each change."""
