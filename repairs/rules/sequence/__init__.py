"""In which order the bench's work is done: few jobs late that need not be, and few students waiting long.

One bench does one step at a time, so a plan is a line of steps; each begins when the one before is done and its own
job is ready, or the next morning where it no longer fits into the day. What rests goes on resting at night, and nights
do not count as waiting. To find the least is beyond any rule (with waits or dates it is NP-hard), so a good line is
built first and then mended: a step, or all of a job, is taken out and put back where it serves best.
"""

from repairs.rules.sequence.bench import TOLERANCE, Bench, Piece, Stretch, Wanted
from repairs.rules.sequence.search import arrange
