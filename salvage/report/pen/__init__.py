"""What every picture is drawn with: lines, letters, colours, names beside what they name."""
