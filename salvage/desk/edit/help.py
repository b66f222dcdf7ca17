"""What `salvage chalk --help` says of edits; apart, so that the help needs nothing else."""

HELP = """
Edits, done in the order given; X,Y are pixels of the photograph, and of the marked picture, which is as large.
N is a number in the marked picture, NAME a piece's name or number. Edits may be repeated.

\b
  --not N ...                 what N marks isn't there (a piece too)
  --seam X,Y X,Y ...          a line; a seam right across a piece parts it
  --hem, --closure            likewise, a hem, a zip
  --pocket X,Y X,Y ...        a patch: two opposite corners, or points round it;
                              with brush=R a stroke so many pixels to each side
  --stain, --worn, --other    likewise; what="ink" says what it is
  --clear X,Y X,Y ...         a patch in which nothing is in the way
  --redraw N X,Y X,Y ...      draw a mark anew, or a piece's outline
  --is N=KIND                 it is a seam, hem, closure, pocket, worn or other
  --name OLD=NEW              call a piece otherwise
  --fabric NAME=FABRIC        what a piece is of, such as lining
  --grain NAME X,Y X,Y        along the thread; up, where it is one-way; or NAME=DEGREES
  --layers NAME=2             so many equal layers lie there
  --one-way NAME=yes          it has a nap or a print with an up and a down
  --split NAME X,Y X,Y ...    part a piece along a line
  --join NAME NAME            make one piece of two
  --remove NAME, --put-back NAME   take a piece out; have it back
  --usable NAME X,Y X,Y ...   only this of a piece is to be used; NAME alone: all
  --answer 3=yes              answer a question (Q3 in the marked picture)
  --cloth X,Y ..., --floor X,Y ...   that is cloth, or floor: the edge is found again
  --call TEXT, --kind KIND    the garment's name; its kind of cloth
  --photo FILE                which photograph what follows is drawn on
  --undo [N], --redo [N]      take back what was done last; do it again
"""
